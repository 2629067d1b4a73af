//! Calls to the allocator where none may be made. The tests of every crate whose code runs in a callback include this file.

use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Calls to the allocator that `work` makes on this thread.
pub(crate) fn allocations(work: impl FnOnce()) -> u32 {
    let before = violation_count();
    assert_no_alloc(work);
    violation_count() - before
}
