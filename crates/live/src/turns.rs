/// Many pupils at few pads: who plays when, by a list.
///
/// After each drill the next ones are called; after the last the list begins anew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Turns {
    pads: Vec<Queue>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
struct Queue {
    pad: String,
    codes: Vec<String>,
    at: usize,
}

impl Turns {
    /// Each pad, by the label that its player else has (`P1`, or a code of the players' list), and those who take turns at
    /// it. A pad with nobody is left out.
    #[must_use]
    pub fn new(pads: impl IntoIterator<Item = (String, Vec<String>)>) -> Self {
        let pads = pads.into_iter().filter(|(_, codes)| !codes.is_empty());
        Self { pads: pads.map(|(pad, codes)| Queue { pad, codes, at: 0 }).collect() }
    }

    /// Who plays now, at which pad.
    #[must_use]
    pub fn now(&self) -> Vec<(String, String)> {
        self.pads.iter().map(|queue| (queue.pad.clone(), queue.codes[queue.at].clone())).collect()
    }

    /// Calls the next ones; returns whether everybody has played and the list begins anew.
    pub fn advance(&mut self) -> bool {
        let mut anew = true;
        for queue in &mut self.pads {
            queue.at = (queue.at + 1) % queue.codes.len();
            anew &= queue.at == 0;
        }
        anew
    }

    /// How many drills it takes until everybody has played.
    #[must_use]
    pub fn rounds(&self) -> usize {
        self.pads.iter().map(|queue| queue.codes.len()).max().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_comes_to_a_pad_in_turn() {
        let list = |codes: &str| codes.split(' ').map(str::to_owned).collect::<Vec<_>>();
        let mut turns = Turns::new([
            ("P1".to_owned(), list("K1 K2 K3")),
            ("P2".to_owned(), list("K4")),
            ("P3".to_owned(), Vec::new()),
        ]);
        assert_eq!(turns.rounds(), 3);
        let mut called = Vec::new();
        loop {
            called.push(
                turns
                    .now()
                    .into_iter()
                    .map(|(pad, code)| format!("{pad} {code}"))
                    .collect::<Vec<_>>()
                    .join(", "),
            );
            if called.len() == turns.rounds() {
                break;
            }
            turns.advance();
        }
        assert_eq!(called, ["P1 K1, P2 K4", "P1 K2, P2 K4", "P1 K3, P2 K4"]);
        assert!(turns.advance(), "the list begins anew");
        assert_eq!(turns.now()[0].1, "K1");
    }
}
