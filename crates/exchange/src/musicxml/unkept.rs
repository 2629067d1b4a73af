use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;

/// Something that a file says of its rhythm and that has no place in the piece that was made of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unkept {
    /// What it is, and how it was read instead where that is not plain.
    pub what: String,
    /// The numbers of the bars in which it stands, rising; those of the piece, a pickup is 0.
    pub bars: Vec<u32>,
}

/// `staccato: bars 1, 3 to 5`.
impl fmt::Display for Unkept {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.what, if self.bars.len() == 1 { "bar" } else { "bars" })?;
        let mut index = 0;
        while index < self.bars.len() {
            let first = self.bars[index];
            let mut last = index;
            while self.bars.get(last + 1).is_some_and(|&next| next == self.bars[last] + 1) {
                last += 1;
            }
            write!(f, "{} {first}", if index == 0 { "" } else { "," })?;
            match last - index {
                0 => {}
                1 => write!(f, ", {}", self.bars[last])?,
                _ => write!(f, " to {}", self.bars[last])?,
            }
            index = last + 1;
        }
        Ok(())
    }
}

/// What is lost while a piece is made, gathered by kind.
#[derive(Debug, Default)]
pub(super) struct Losses(BTreeMap<Cow<'static, str>, Vec<u32>>);

impl Losses {
    pub(super) fn add(&mut self, what: impl Into<Cow<'static, str>>, bar: u32) {
        let bars = self.0.entry(what.into()).or_default();
        if bars.last() != Some(&bar) {
            bars.push(bar);
        }
    }

    /// In the order of the bars.
    pub(super) fn listed(self) -> Vec<Unkept> {
        let mut listed: Vec<Unkept> = self
            .0
            .into_iter()
            .map(|(what, mut bars)| {
                bars.sort_unstable();
                bars.dedup();
                Unkept { what: what.into_owned(), bars }
            })
            .collect();
        listed.sort_by(|a, b| (a.bars.first(), &a.what).cmp(&(b.bars.first(), &b.what)));
        listed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_told_in_runs() {
        let check = |bars: &[u32], expected: &str| {
            let unkept = Unkept { what: "a trill".to_owned(), bars: bars.to_vec() };
            assert_eq!(unkept.to_string(), expected);
        };
        check(&[4], "a trill: bar 4");
        check(&[1, 2], "a trill: bars 1, 2");
        check(&[0, 3, 4, 5, 9, 10], "a trill: bars 0, 3 to 5, 9, 10");
    }
}
