//! Any text as the journal of a take: opening the folder ends, with a take or an error.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|journal: &[u8]| {
    let folder = tempfile::tempdir_in("/dev/shm").expect("memory takes files");
    std::fs::write(take::Folder::new(folder.path()).journal(), journal).expect("memory takes files");
    if let Ok(open) = take::Take::open(folder.path()) {
        let _ = open.midi();
        // What can be opened can be completed, or the reason why not is said.
        let _ = take::Take::recover(folder.path()).map_err(|error| error.to_string());
    }
});
