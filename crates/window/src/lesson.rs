//! Learning by striking: which pads are whose, and which pad or pedal asks for what.

use std::collections::VecDeque;

use input::{Learning, Lesson as Learnt, Order, Place, Roster, TouchedAt};

/// How long nobody may have struck for a player's turn to be over, in seconds.
const QUIET: f64 = 1.5;
/// How long a player who does not come is waited for, in seconds.
const PATIENCE: f64 = 30.0;
/// What was learnt last is told in so many lines.
const LINES: usize = 4;

/// A lesson under way. Times are the window's own, in seconds.
#[derive(Debug)]
pub(crate) enum Lesson {
    /// Players strike everything that is theirs, one after the other.
    Players(Box<Called>),
    /// The next thing that is touched asks for this.
    Order(Order),
}

/// Who is called to strike.
#[derive(Debug)]
pub(crate) struct Called {
    code: String,
    then: VecDeque<String>,
    learning: Learning,
    since: f64,
    said: VecDeque<String>,
}

/// What came of a lesson.
#[derive(Debug)]
pub(crate) enum Outcome {
    /// Who plays on what now.
    Players(Roster),
    /// What asks for something.
    Order(Order, Place),
    /// Nothing, for this reason.
    Nothing(String),
}

impl Lesson {
    /// Calls these players, one after the other; those who are listed and not called keep what is theirs.
    pub(crate) fn players(codes: Vec<String>, listed: &Roster, now: f64) -> Option<Self> {
        let mut then: VecDeque<String> = codes.into();
        let code = then.pop_front()?;
        let mut learning = Learning::beside(listed);
        learning.call(&code);
        Some(Self::Players(Box::new(Called { code, then, learning, since: now, said: VecDeque::new() })))
    }

    /// Takes in what was touched.
    pub(crate) fn heed(&mut self, touch: &TouchedAt, now: f64) -> Option<Outcome> {
        match self {
            Self::Order(order) => Some(match touch.place() {
                Ok(place) => Outcome::Order(*order, place),
                Err(error) => Outcome::Nothing(error.to_string()),
            }),
            Self::Players(called) => {
                called.heed(touch, now);
                None
            }
        }
    }

    /// What is over by now.
    pub(crate) fn mind(&mut self, now: f64) -> Option<Outcome> {
        match self {
            Self::Order(_) => None,
            Self::Players(called) if now < called.until() => None,
            Self::Players(called) => called.next(now),
        }
    }

    /// The present turn is over, whatever was struck.
    pub(crate) fn go_on(&mut self, now: f64) -> Option<Outcome> {
        match self {
            Self::Order(_) => Some(Outcome::Nothing("nothing was assigned".to_owned())),
            Self::Players(called) => called.next(now),
        }
    }

    /// When to look again, in seconds from `now`.
    pub(crate) fn wait(&self, now: f64) -> Option<f64> {
        match self {
            Self::Order(_) => None,
            Self::Players(called) => Some((called.until() - now).max(0.0)),
        }
    }

    /// What is to be done now, in a sentence.
    pub(crate) fn asks(&self) -> String {
        match self {
            Self::Order(order) => {
                format!("Strike the pad or tread on the pedal that is to {}.", does(*order))
            }
            Self::Players(called) => {
                let then = called
                    .then
                    .front()
                    .map_or_else(String::new, |next| format!(" Then it is {next}'s turn."));
                format!("{}, strike everything that is yours, then wait.{then}", called.code)
            }
        }
    }

    /// What was learnt last.
    pub(crate) fn said(&self) -> impl Iterator<Item = &str> {
        let said = if let Self::Players(called) = self { Some(&called.said) } else { None };
        said.into_iter().flatten().map(String::as_str)
    }
}

impl Called {
    fn heed(&mut self, touch: &TouchedAt, now: f64) {
        match self.learning.touch(touch) {
            Learnt::Learnt => self.say(format!("{}: {touch}", self.code)),
            Learnt::Known | Learnt::Nobody => {}
            // It holds nobody's turn up.
            Learnt::OfAnother { code } => {
                self.say(format!("That is {code}'s: {}, strike another.", self.code));
                return;
            }
        }
        self.since = now;
    }

    fn until(&self) -> f64 {
        self.since + if self.learning.struck() == 0 { PATIENCE } else { QUIET }
    }

    fn next(&mut self, now: f64) -> Option<Outcome> {
        if self.learning.struck() == 0 {
            self.say(format!("{} struck nothing and is left as before.", self.code));
        }
        let Some(code) = self.then.pop_front() else {
            return Some(match self.learning.roster() {
                Ok(roster) => Outcome::Players(roster),
                Err(error) => Outcome::Nothing(error.to_string()),
            });
        };
        self.learning.call(&code);
        (self.code, self.since) = (code, now);
        None
    }

    fn say(&mut self, line: String) {
        self.said.push_back(line);
        if self.said.len() > LINES {
            self.said.pop_front();
        }
    }
}

/// What an order does, behind "to".
pub(crate) fn does(order: Order) -> &'static str {
    match order {
        Order::Start => "start the drill",
        Order::Stop => "stop the drill",
        Order::Next => "call the next pupil, or open the next rhythm",
        Order::Again => "play the same again",
    }
}

/// Codes as they are typed, parted by blanks, commas or semicolons; each once.
pub(crate) fn codes(typed: &str) -> Vec<String> {
    let mut codes: Vec<String> = Vec::new();
    let parted = typed.split(|c: char| c.is_whitespace() || c == ',' || c == ';');
    for code in parted.filter(|code| !code.is_empty()) {
        if !codes.iter().any(|known| known == code) {
            codes.push(code.to_owned());
        }
    }
    codes
}

#[cfg(test)]
mod tests {
    use input::Touched;

    use super::*;

    fn touch(port: &str, note: u8) -> TouchedAt {
        TouchedAt { port: port.to_owned(), channel: 9, touched: Touched::Note(note) }
    }

    #[test]
    fn each_is_called_and_waited_for() {
        let mut lesson = Lesson::players(codes("K1, K2 K3"), &Roster::default(), 0.0).expect("three codes");
        assert_eq!(lesson.asks(), "K1, strike everything that is yours, then wait. Then it is K2's turn.");
        assert!(lesson.mind(29.9).is_none());
        assert!(lesson.heed(&touch("Pad", 38), 29.9).is_none());
        assert_eq!(lesson.wait(30.4), Some(1.0));
        // A second and a half of silence, and it is the next one's turn.
        assert!(lesson.mind(31.3).is_none());
        assert!(lesson.asks().starts_with("K1,"));
        assert!(lesson.mind(31.4).is_none());
        assert!(lesson.asks().starts_with("K2,"), "{}", lesson.asks());
        lesson.heed(&touch("Pad", 38), 32.0);
        assert_eq!(lesson.said().last(), Some("That is K1's: K2, strike another."));
        lesson.heed(&touch("Pad", 40), 33.0);
        assert!(lesson.mind(34.5).is_none());
        assert!(lesson.asks().starts_with("K3,"));
        let Some(Outcome::Players(roster)) = lesson.mind(64.5) else { panic!("all were called") };
        let told: Vec<_> =
            roster.entries().iter().map(|entry| format!("{}: {}", entry.code, entry.places[0])).collect();
        assert_eq!(told, ["K1: Pad, channel 10, note 38", "K2: Pad, channel 10, note 40"]);
    }

    #[test]
    fn an_order_is_the_next_touch() {
        let mut lesson = Lesson::Order(Order::Next);
        assert!(lesson.asks().contains("call the next pupil"));
        assert!(lesson.mind(1_000.0).is_none());
        let pedal = TouchedAt { touched: Touched::Pedal(64), ..touch("Stage", 0) };
        let Some(Outcome::Order(Order::Next, place)) = lesson.heed(&pedal, 0.0) else { panic!("a place") };
        assert_eq!(place.to_string(), "Stage, channel 10, pedal 64");
    }

    #[test]
    fn codes_are_parted_as_people_part_them() {
        assert_eq!(codes(" K1,K2;  K3 K1\n"), ["K1", "K2", "K3"]);
        assert!(codes(" , ").is_empty());
        assert!(Lesson::players(Vec::new(), &Roster::default(), 0.0).is_none());
    }
}
