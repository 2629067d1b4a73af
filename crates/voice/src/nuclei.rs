/// The tops of a loudness over time that are vowels, and the deepest place between each and the next.
#[derive(Debug, PartialEq)]
pub(crate) struct Nuclei<'a> {
    values: &'a [f64],
    tops: Vec<usize>,
    dips: Vec<usize>,
}

/// What is softer than this share of the loudest is no vowel, whoever says how many there are.
const LEAST: f64 = 0.05;
/// Where nobody says how many there are, a vowel has at least so much of the loudest one,
const HEARD: f64 = 0.25;
/// and stands so much of itself above the higher dip beside it.
const STANDS_OUT: f64 = 0.25;

impl<'a> Nuclei<'a> {
    /// Of a word with so many vowels, or with nobody knows how many.
    pub(crate) fn of(values: &'a [f64], count: Option<usize>) -> Self {
        let most = values.iter().copied().fold(0.0, f64::max);
        let least = most * if count.is_some() { LEAST } else { HEARD };
        let is_top = |place: &usize| {
            let here = values[*place];
            here > values[place - 1] && here >= values[place + 1] && here >= least
        };
        let tops: Vec<usize> = (1..values.len().saturating_sub(1)).filter(is_top).collect();
        let dips = tops.windows(2).map(|pair| lowest(values, pair[0], pair[1])).collect();
        let mut nuclei = Self { values, tops, dips };
        match count {
            Some(count) => {
                while nuclei.tops.len() > count.max(1) {
                    nuclei.leave_away(nuclei.least(|stands_out, _| stands_out).0);
                }
            }
            None => loop {
                let (number, share) = nuclei.least(|stands_out, top| stands_out / top);
                if share > STANDS_OUT || nuclei.tops.len() < 2 {
                    break;
                }
                nuclei.leave_away(number);
            },
        }
        nuclei
    }

    pub(crate) const fn count(&self) -> usize {
        self.tops.len()
    }

    /// The top of this number, and the dips it lies between or the ends.
    pub(crate) fn around(&self, number: usize) -> Option<(usize, (usize, usize))> {
        let top = *self.tops.get(number)?;
        let from = number.checked_sub(1).map_or(0, |before| self.dips[before]);
        let to = self.dips.get(number).copied().unwrap_or(self.values.len());
        Some((top, (from, to)))
    }

    /// The number of the top of the least measure: of how far it stands out above the higher dip beside it, and of its
    /// height.
    fn least(&self, measure: impl Fn(f64, f64) -> f64) -> (usize, f64) {
        let dip = |number: Option<usize>| {
            number.and_then(|number| self.dips.get(number)).map_or(0.0, |&dip| self.values[dip])
        };
        let of = |number: usize| {
            let top = self.values[self.tops[number]];
            measure(top - dip(number.checked_sub(1)).max(dip(Some(number))), top)
        };
        let all = (0..self.tops.len()).map(|number| (number, of(number)));
        all.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, f64::INFINITY))
    }

    /// Leaves a top away; of the dips beside it the deeper one stays, between its neighbours.
    fn leave_away(&mut self, number: usize) {
        self.tops.remove(number);
        let is_inner = number > 0 && number < self.dips.len();
        let before_is_higher =
            is_inner && self.values[self.dips[number - 1]] > self.values[self.dips[number]];
        let dip = if number > 0 && (!is_inner || before_is_higher) { number - 1 } else { number };
        self.dips.remove(dip);
    }
}

/// The lowest place from one to before another.
fn lowest(values: &[f64], from: usize, to: usize) -> usize {
    (from..to).min_by(|&a, &b| values[a].total_cmp(&values[b])).unwrap_or(from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_vowels_of_a_word_are_the_tops_that_stand_out() {
        // A splinter of 0.4, a vowel with two tops, a soft vowel after a gap.
        let values = [0.0, 0.4, 0.35, 1.0, 0.92, 0.95, 0.0, 0.2, 0.0];
        let tops = |count: Option<usize>| {
            let nuclei = Nuclei::of(&values, count);
            (nuclei.tops.clone(), nuclei.dips)
        };
        assert_eq!(tops(Some(1)), (vec![3], vec![]));
        assert_eq!(tops(Some(2)), (vec![3, 7], vec![6]));
        assert_eq!(tops(Some(3)), (vec![1, 3, 7], vec![2, 6]));
        assert_eq!(tops(Some(9)).0, [1, 3, 5, 7]);
        assert_eq!(tops(None), (vec![3], vec![]), "a fifth of the loudest is none where nobody says so");
        assert_eq!(Nuclei::of(&values, Some(2)).around(1), Some((7, (6, 9))));
        assert_eq!(Nuclei::of(&values, Some(2)).around(2), None);
        assert_eq!(Nuclei::of(&[], None).count(), 0);
    }
}
