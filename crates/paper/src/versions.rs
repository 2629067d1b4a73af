use crate::Error;
use crate::limits::VERSIONS_MOST;

/// Which of several versions a sheet is, and how its order was drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Version {
    /// From 0.
    index: u8,
    seed: u64,
    drawn: Drawn,
}

/// What chance has chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Drawn {
    /// The order; the first version's is as given.
    Order,
    /// The rhythms.
    Rhythms,
}

impl Version {
    /// A, B, C …
    #[must_use]
    pub fn letter(self) -> char {
        char::from(b'A' + self.index)
    }
}

/// As it stands at the foot of a page: `Version B, order drawn with seed 7`, `Version B, rhythms drawn with seed 7`.
impl std::fmt::Display for Version {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let drawn = match self.drawn {
            Drawn::Order if self.index == 0 => "in the order given".to_owned(),
            Drawn::Order => format!("order drawn with seed {}", self.seed),
            Drawn::Rhythms => format!("rhythms drawn with seed {}", self.seed),
        };
        write!(f, "Version {}, {drawn}", self.letter())
    }
}

/// `count` versions of a sheet of so many exercises: the first in the order given, each of the others in an order of
/// its own, drawn from `seed`. Of each, which exercise stands where, by its index.
///
/// The same seed draws the same orders, on every machine. They are the same rhythms in every version: none is made
/// up here.
///
/// # Errors
/// If there are not so many letters, or not so many orders.
pub fn versions(count: usize, exercises: usize, seed: u64) -> Result<Vec<(Version, Vec<usize>)>, Error> {
    let orders = (1..=exercises).try_fold(1_usize, |product, number| product.checked_mul(number));
    let most = orders.unwrap_or(usize::MAX).min(VERSIONS_MOST);
    if count == 0 || count > most || exercises == 0 {
        return Err(Error::Versions { given: count, exercises, most });
    }
    let mut random = SplitMix64(seed);
    let mut drawn: Vec<Vec<usize>> = vec![(0..exercises).collect()];
    while drawn.len() < count {
        let order = shuffled(exercises, &mut random);
        if !drawn.contains(&order) {
            drawn.push(order);
        }
    }
    Ok(numbered(seed, Drawn::Order).zip(drawn).collect())
}

fn numbered(seed: u64, drawn: Drawn) -> impl Iterator<Item = Version> {
    (0_u8..).map(move |index| Version { index, seed, drawn })
}

/// `count` versions of a sheet that differ by their rhythms: `each` of so many `exercises`, which are given from the easiest to
/// the hardest. The list is parted in `each` stretches as equal as can be, and every version has one of each stretch: so
/// all are of one level. Which one, `seed` draws; no two versions have the same one of a stretch before all of it is used.
///
/// # Errors
/// If there are not so many letters, or the exercises are fewer than twice as many as each version has.
pub fn dealt(
    count: usize,
    exercises: usize,
    each: usize,
    seed: u64,
) -> Result<Vec<(Version, Vec<usize>)>, Error> {
    if !(1..=VERSIONS_MOST).contains(&count) || each == 0 || exercises / 2 < each {
        return Err(Error::Dealt { versions: count, exercises, each });
    }
    let mut random = SplitMix64(seed);
    let mut versions = vec![Vec::with_capacity(each); count];
    for stretch in 0..each {
        let (first, end) = (stretch * exercises / each, (stretch + 1) * exercises / each);
        let order = shuffled(end - first, &mut random);
        for (version, &place) in versions.iter_mut().zip(order.iter().cycle()) {
            version.push(first + place);
        }
    }
    Ok(numbered(seed, Drawn::Rhythms).zip(versions).collect())
}

/// Durstenfeld's shuffle ("Algorithm 235: Random permutation", Communications of the ACM 7, 1964).
fn shuffled(count: usize, random: &mut SplitMix64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    for last in (1..count).rev() {
        order.swap(last, random.below(last + 1));
    }
    order
}

/// The generator of Steele, Lea and Flood ("Fast splittable pseudorandom number generators", OOPSLA 2014) with the
/// constants of Vigna's public-domain `splitmix64.c`. It is six lines of our own because a printed seed must draw the
/// same order in every later release, which libraries for randomness do not promise.
struct SplitMix64(u64);

impl SplitMix64 {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number under `bound`: the upper half of a product, whose lean is less than one in 10^15 for a page of exercises.
    fn below(&mut self, bound: usize) -> usize {
        let product = u128::from(self.next()) * (bound as u128);
        usize::try_from(product >> 64).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs of `splitmix64.c` with the seed 1234567, as its public test vectors have them (from memory).
    #[test]
    fn the_generator_is_the_published_one() {
        let mut random = SplitMix64(1_234_567);
        let drawn: Vec<u64> = (0..3).map(|_| random.next()).collect();
        assert_eq!(drawn, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn every_version_has_an_order_of_its_own_and_all_exercises() {
        for (count, exercises) in [(1, 1), (2, 2), (6, 3), (26, 5), (3, 300)] {
            let all = versions(count, exercises, 7).expect("there are so many");
            assert_eq!(all.len(), count);
            assert_eq!(all[0].1, (0..exercises).collect::<Vec<_>>(), "the first is as given");
            for (number, (version, order)) in all.iter().enumerate() {
                assert_eq!(usize::from(version.index), number);
                let mut sorted = order.clone();
                sorted.sort_unstable();
                assert_eq!(sorted, all[0].1);
                assert!(all[..number].iter().all(|(_, other)| other != order));
            }
        }
        assert_eq!(versions(4, 6, 1), versions(4, 6, 1));
        assert_ne!(versions(4, 6, 1), versions(4, 6, 2));
    }

    #[test]
    fn dealt_versions_are_of_one_level() {
        for (count, exercises, each) in [(1, 2, 1), (2, 8, 4), (3, 20, 6), (5, 12, 4), (26, 300, 10)] {
            let all = dealt(count, exercises, each, 7).expect("there are so many");
            assert_eq!(all.len(), count);
            for (number, (_, chosen)) in all.iter().enumerate() {
                assert_eq!(chosen.len(), each);
                for (stretch, &index) in chosen.iter().enumerate() {
                    let (first, end) = (stretch * exercises / each, (stretch + 1) * exercises / each);
                    assert!((first..end).contains(&index), "one of its own level");
                    // Another than the versions before it have, as long as there are others.
                    let before = all[number.saturating_sub(end - first - 1)..number].iter();
                    assert!(before.map(|(_, other)| other[stretch]).all(|other| other != index));
                }
            }
        }
        assert_eq!(dealt(3, 20, 6, 1), dealt(3, 20, 6, 1));
        assert_ne!(dealt(3, 20, 6, 1), dealt(3, 20, 6, 2));
        let wrong = |count, exercises, each, words: &str| {
            let error = dealt(count, exercises, each, 0).expect_err("it cannot be").to_string();
            assert!(error.contains(words), "{error}");
        };
        wrong(2, 7, 4, "at least 8");
        wrong(2, 7, 0, "at least 1");
        wrong(27, 70, 4, "1 to 26");
    }

    #[test]
    fn more_versions_than_orders_are_refused() {
        let check = |count, exercises, most: &str| {
            let error = versions(count, exercises, 0).expect_err("too many").to_string();
            assert!(error.contains(most), "{error}");
        };
        check(2, 1, "1 at most");
        check(7, 3, "6 at most");
        check(27, 30, "26 at most");
        check(0, 3, "6 at most");
    }

    #[test]
    fn the_foot_says_how_the_order_was_drawn() {
        let all = versions(2, 3, 42).expect("there are");
        assert_eq!(all[0].0.to_string(), "Version A, in the order given");
        assert_eq!(all[1].0.to_string(), "Version B, order drawn with seed 42");
        let dealt = dealt(1, 4, 2, 42).expect("there are");
        assert_eq!(dealt[0].0.to_string(), "Version A, rhythms drawn with seed 42");
    }
}
