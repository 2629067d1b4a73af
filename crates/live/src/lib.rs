//! One drill from ready to judged, as a state machine that owns the threads and channels.
