//! Sound events and a bank of samples, rendered in real time.
