use timebase::Frame;

/// A stroke in a recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Where it begins, from the recording's first frame: where its sound leaves what was there before. At 48 kHz and
    /// with little noise this is right to a few frames; `method.md` gives what was measured.
    pub at: Frame,
    /// Its greatest sample above 2 kHz in the first 10 ms, in dB, 0 being full scale. It compares strokes of one
    /// recording with one another; it is no loudness.
    pub peak_dbfs: f64,
}
