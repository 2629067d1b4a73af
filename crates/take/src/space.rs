use std::path::Path;

use crate::Error;
use crate::limits::SPACE_KEPT;

/// Bytes that a program may still write on the disk of `dir`; `None` where the system does not tell.
pub(crate) fn free_bytes(dir: &Path) -> Option<u64> {
    fs4::available_space(dir).ok()
}

/// Why no more sound can be written where so much is free, if so. What is not known stands in nobody's way.
pub(crate) fn little_space(dir: &Path, free: Option<u64>) -> Option<Error> {
    let free = free.filter(|free| *free < SPACE_KEPT)?;
    Some(Error::LittleSpace { dir: dir.to_owned(), free_mb: free >> 20, needed_mb: SPACE_KEPT >> 20 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_disk_of_a_folder_is_asked() {
        let folder = tempfile::tempdir().expect("a folder");
        let free = free_bytes(folder.path()).expect("the system tells");
        assert!(free > 0);
        assert_eq!(free_bytes(Path::new("/no/such/folder")), None);
    }

    #[test]
    fn little_is_said_with_what_is_needed() {
        let said = |free| little_space(Path::new("takes"), free).map(|error| error.to_string());
        assert_eq!(said(None), None);
        assert_eq!(said(Some(64 << 20)), None);
        let little = said(Some((64 << 20) - 1)).expect("too little");
        assert!(little.contains("takes has 63 MB left") && little.contains("64 MB"), "{little}");
    }
}
