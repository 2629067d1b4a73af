//! The written rhythm: text in and out, meter, bars, spelling and beaming.
