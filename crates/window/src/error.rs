use std::path::PathBuf;

/// Why the window did not open, or closed by itself.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// There is no display, or its drivers are missing.
    #[error(
        "the window cannot open: {why}. On Linux it needs a display (X11 or Wayland) and, of Debian's packages, \
         libx11-6 libx11-xcb1 libxcursor1 libxi6 libxkbcommon-x11-0 libegl1 libgl1-mesa-dri; without a display, use \
         `countline listen`"
    )]
    NoWindow {
        /// What the window system said.
        why: String,
    },
    /// A file could not be read.
    #[error("cannot read {}: {why}: check the path, and that you may read the file", .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        why: std::io::Error,
    },
    /// A file that is no text.
    #[error(
        "{} is not UTF-8 text: byte {at} belongs to no character. A rhythm is a plain text file: save it as UTF-8",
        .path.display()
    )]
    NoText {
        /// The file.
        path: PathBuf,
        /// The first byte that belongs to no character.
        at: usize,
    },
}
