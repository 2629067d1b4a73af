use crate::Staff;

/// Which voice of its line a part is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Voice {
    /// The only one: heads on the line.
    Alone,
    /// The upper of two: heads over the line, stems up.
    Upper,
    /// The lower of two: heads under the line, stems down.
    Lower,
}

impl Voice {
    /// Of every staff.
    pub(crate) fn all(staves: &[Staff<'_>]) -> Vec<Self> {
        let next = staves.iter().skip(1).map(|staff| staff.shares_line).chain([false]);
        let of = |(staff, next_shares): (&Staff<'_>, bool)| match (staff.shares_line, next_shares) {
            (true, _) => Self::Lower,
            (false, true) => Self::Upper,
            (false, false) => Self::Alone,
        };
        staves.iter().zip(next).map(of).collect()
    }

    /// How far its heads stand off the staff's line, towards its stems: two instruments on one line stand over and
    /// under it, each head in a space (from memory), so that heads struck together never meet.
    pub(crate) fn off_line(self) -> f64 {
        if self == Self::Alone { 0.0 } else { 0.5 }
    }
}
