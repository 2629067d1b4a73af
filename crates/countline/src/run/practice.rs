//! `countline practice`: the window.

use crate::failure::Failure;
use crate::flags::PracticeFlags;

pub(crate) fn run(flags: PracticeFlags) -> Result<(), Failure> {
    let _ = flags;
    Err(Failure::Job("the window is not built".into()))
}
