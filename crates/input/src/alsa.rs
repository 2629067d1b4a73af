//! ALSA's own messages. Linux only.

/// Keeps what ALSA's library would print to standard error from being printed, for calls on this thread: it
/// complains of everything it does not find, and what matters comes back as an error anyway.
pub(crate) fn hush() {
    // Where even the buffer for the messages cannot be had, they are printed.
    alsa::Output::local_error_handler().ok();
}
