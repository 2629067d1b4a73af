use counting::CountLine;
use rhythm::Rhythm;

use crate::Error;

/// One staff of a page: what one part plays and how it is counted.
#[derive(Clone, Debug)]
pub struct Staff<'a> {
    /// The part's name, which stands before it where several are joined.
    pub name: Option<&'a str>,
    /// What it plays.
    pub rhythm: &'a Rhythm,
    /// Its count lines from the top, all of this rhythm: in one counting system, in two to be compared, or none.
    pub countings: Vec<&'a CountLine>,
    /// Whether it stands on the line of the staff before it, as the lower of two voices: its stems go down, the other's
    /// up.
    pub shares_line: bool,
}

impl Staff<'_> {
    /// That there is one, all have the same bars, every count line belongs to its rhythm, and a line holds two voices
    /// at most.
    pub(crate) fn check(staves: &[Self]) -> Result<(), Error> {
        let first = staves.first().ok_or(Error::NoStaff)?.rhythm;
        let before = std::iter::once(true).chain(staves.iter().map(|staff| staff.shares_line));
        if let Some(staff) = staves.iter().zip(before).position(|(staff, before)| staff.shares_line && before)
        {
            return Err(Error::SharedLine { staff: staff + 1 });
        }
        for (number, staff) in (1..).zip(staves) {
            let (bars, written) = (staff.rhythm.bars(), first.bars());
            let alike = |(a, b): (&rhythm::Bar, &rhythm::Bar)| {
                (a.number(), a.meter(), a.start(), a.end()) == (b.number(), b.meter(), b.start(), b.end())
            };
            let route = staff.rhythm.repeats() == first.repeats() && staff.rhythm.jump() == first.jump();
            if bars.len() != written.len() || !bars.iter().zip(written).all(alike) || !route {
                return Err(Error::OtherBars { staff: number });
            }
            for counting in &staff.countings {
                let (counted, written) = (counting.bars().len(), bars.len());
                if counted != written {
                    return Err(Error::OtherRhythm { counted, written });
                }
            }
        }
        Ok(())
    }
}
