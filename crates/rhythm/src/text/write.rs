use crate::Rhythm;
/// placeholder
pub fn write(_rhythm: &Rhythm) -> String {
    String::new()
}
