use crate::Error;
use crate::limits::VERSIONS_MOST;

/// Which of several versions a sheet is, and how its order was drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Version {
    /// From 0.
    index: u8,
    seed: u64,
}

impl Version {
    /// A, B, C …
    #[must_use]
    pub fn letter(self) -> char {
        char::from(b'A' + self.index)
    }
}

/// As it stands at the foot of a page: `Version B, order drawn with seed 7`.
impl std::fmt::Display for Version {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let order = if self.index == 0 {
            "in the order given".to_owned()
        } else {
            format!("order drawn with seed {}", self.seed)
        };
        write!(f, "Version {}, {order}", self.letter())
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
    Ok((0_u8..).map(|index| Version { index, seed }).zip(drawn).collect())
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
    }
}
