//! Reading and writing MusicXML.
fn main() {}
