use timebase::Seconds;
use timebase::limits::Limit;

use crate::Error;
use crate::limits::{RANGE_DB, RETRIGGER_MS, RISE_DB};

/// What counts as a stroke. The default was chosen on rendered claps, sticks and snares with room noise and a
/// counting voice; `method.md` tells on which.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    retrigger: Seconds,
    rise_db: f64,
    range_db: f64,
}

impl Settings {
    /// 28 ms: a clap's hands have met for good by then, and a flam's two strokes are 40 ms apart.
    pub const DEFAULT_RETRIGGER: Seconds = Seconds::from_millis(28);

    /// These settings with another time in which a stroke cannot be followed by another.
    ///
    /// # Errors
    /// Outside [`RETRIGGER_MS`].
    pub fn with_retrigger(self, retrigger: Seconds) -> Result<Self, Error> {
        allowed(retrigger.as_millis_f64(), RETRIGGER_MS)?;
        Ok(Self { retrigger, ..self })
    }

    /// These settings with another least rise: by how many dB a stroke stands out of what sounded up to 15 ms before
    /// it, on average over the bands of pitch. For one that is nearly as loud as the loudest half of it is enough. Higher finds fewer strokes and fewer noises.
    ///
    /// # Errors
    /// Outside [`RISE_DB`], or not a number.
    pub fn with_rise_db(self, rise_db: f64) -> Result<Self, Error> {
        allowed(rise_db, RISE_DB)?;
        Ok(Self { rise_db, ..self })
    }

    /// These settings with another range: how many dB below the recording's loud strokes the softest may lie.
    ///
    /// # Errors
    /// Outside [`RANGE_DB`], or not a number.
    pub fn with_range_db(self, range_db: f64) -> Result<Self, Error> {
        allowed(range_db, RANGE_DB)?;
        Ok(Self { range_db, ..self })
    }

    /// The time after a stroke in which no second one is taken.
    #[must_use]
    pub fn retrigger(&self) -> Seconds {
        self.retrigger
    }

    /// By how many dB a stroke must rise.
    #[must_use]
    pub fn rise_db(&self) -> f64 {
        self.rise_db
    }

    /// How many dB the softest stroke may lie below the loud ones.
    #[must_use]
    pub fn range_db(&self) -> f64 {
        self.range_db
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self { retrigger: Self::DEFAULT_RETRIGGER, rise_db: 4.0, range_db: 20.0 }
    }
}

/// Not a number lies in no range.
fn allowed(given: f64, limit: Limit) -> Result<(), Error> {
    if given >= limit.least as f64 && given <= limit.most as f64 {
        Ok(())
    } else {
        Err(Error::OutOfRange { given: given.to_string(), limit })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_outside_its_limit_is_refused_with_the_limit() {
        let error = Settings::default().with_rise_db(0.5).expect_err("too little");
        assert_eq!(error.to_string(), "0.5 is not a rise of a stroke in dB: it goes from 1 to 40");
        assert!(Settings::default().with_range_db(f64::NAN).is_err());
        assert!(Settings::default().with_retrigger(Seconds::from_millis(201)).is_err());
        assert!(Settings::default().with_retrigger(Seconds::from_millis(200)).is_ok());
    }
}
