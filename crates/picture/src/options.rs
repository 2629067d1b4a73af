use crate::Error;

/// The finest scale, in milliseconds a staff space.
pub(crate) const LEAST_SCALE: f64 = 1.0;
/// The coarsest scale, in milliseconds a staff space.
pub(crate) const MOST_SCALE: f64 = 1_000.0;

/// What the pins lean against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Against {
    /// The player's own steady pulse: the bias is taken out. People lead a click by tens of milliseconds,
    /// and that is no fault.
    #[default]
    OwnPulse,
    /// The click: as it fell.
    Click,
    /// The mean of all players at that note.
    Section,
}

impl Against {
    /// Every choice, in the order a switch goes through them.
    pub const ALL: [Self; 3] = [Self::OwnPulse, Self::Click, Self::Section];

    /// As it stands in the legend: `own pulse`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::OwnPulse => "own pulse",
            Self::Click => "the click",
            Self::Section => "the section",
        }
    }
}

/// How the rows are drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureOptions {
    /// What the rows' pins lean against, for the legend: the rows are made with the same.
    pub against: Against,
    /// How many milliseconds a bead's distance of one staff space stands for.
    pub ms_per_space: f64,
    /// Whether the full legend stands under the page. `early | late` always stands at the rows' head.
    pub legend: bool,
}

impl Default for PictureOptions {
    /// Own pulse, 30 ms a staff space (the default tolerance of 50 ms is a little more than a notehead), with a legend.
    fn default() -> Self {
        Self { against: Against::OwnPulse, ms_per_space: 30.0, legend: true }
    }
}

impl PictureOptions {
    pub(crate) fn check(&self) -> Result<(), Error> {
        if (LEAST_SCALE..=MOST_SCALE).contains(&self.ms_per_space) {
            Ok(())
        } else {
            Err(Error::Scale { given: self.ms_per_space })
        }
    }
}
