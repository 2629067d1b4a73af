use timebase::Moment;

/// How far a drill has got.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Phase {
    /// Nothing plays.
    Ready,
    /// The bars before the rhythm are counted.
    CountIn,
    /// The rhythm is played.
    Playing,
    /// The last bar is over; late strokes are still heard.
    RingingOut,
    /// Over and judged.
    Judged,
}

impl Phase {
    /// The phase at `now`, for a rhythm whose first event falls at `start` and whose last bar ends at `end`.
    pub(crate) fn at(now: Moment, start: Moment, end: Moment) -> Self {
        if now < start {
            Self::CountIn
        } else if now < end {
            Self::Playing
        } else {
            Self::RingingOut
        }
    }
}

#[cfg(test)]
mod tests {
    use timebase::Seconds;

    use super::*;

    #[test]
    fn phases_follow_one_another() {
        let ms = |ms| Moment::ZERO + Seconds::from_millis(ms);
        let phases = [-2_000, -1, 0, 3_999, 4_000].map(|now| Phase::at(ms(now), ms(0), ms(4_000)));
        use Phase::{CountIn, Playing, RingingOut};
        assert_eq!(phases, [CountIn, CountIn, Playing, Playing, RingingOut]);
    }
}
