//! Whose turn it is in the terminal: who has played, who was stopped, and what each order would bring.

use input::{Controls, Order};
use live::Turns;

/// A list of those who take turns, as it is gone through. Without a list there is one turn, nobody's in particular.
#[derive(Debug)]
pub(super) struct Calls {
    turns: Turns,
    /// How many have had their turn since the list began.
    had: usize,
    /// Who played last.
    played: Option<Vec<(String, String)>>,
    /// Whether the last ones play once more, so that nobody is passed over.
    once_more: bool,
    /// Whether the last drill was stopped before its end: no turn was had.
    was_stopped: bool,
    /// Whether those who were stopped were passed over.
    passed_over: bool,
}

impl Calls {
    pub(super) fn new(turns: Turns) -> Self {
        Self { turns, had: 0, played: None, once_more: false, was_stopped: false, passed_over: false }
    }

    /// How many turns there are.
    fn rounds(&self) -> usize {
        self.turns.rounds().max(1)
    }

    /// Whether several come to a pad.
    pub(super) fn is_list(&self) -> bool {
        self.turns.rounds() > 0
    }

    /// Whether everybody has played.
    pub(super) fn is_over(&self) -> bool {
        self.had >= self.rounds()
    }

    /// Whether somebody asked to pass over those whose drill was stopped.
    pub(super) fn was_passed_over(&self) -> bool {
        self.passed_over
    }

    /// Who plays now: each pad and the code at it.
    pub(super) fn now(&self) -> Vec<(String, String)> {
        match &self.played {
            Some(played) if self.once_more => played.clone(),
            _ => self.turns.now(),
        }
    }

    /// A drill begins for those whose turn it is.
    pub(super) fn starts(&mut self) -> Vec<(String, String)> {
        let now = self.now();
        if self.is_over() && !self.once_more {
            self.had = 0;
        }
        (self.was_stopped, self.passed_over) = (false, false);
        self.played = Some(now.clone());
        now
    }

    /// A drill is over. The next ones are called when it was played to its end.
    pub(super) fn ends(&mut self, finished: bool) {
        self.was_stopped = !finished;
        if finished {
            self.advance();
        }
    }

    /// Somebody asks for this, between two drills.
    pub(super) fn asks(&mut self, order: Order) {
        match order {
            Order::Again if self.played.is_some() => self.once_more = self.once_more || !self.was_stopped,
            // Those whose drill was stopped are passed over.
            Order::Next if self.was_stopped => {
                (self.was_stopped, self.passed_over) = (false, true);
                self.advance();
            }
            _ => {}
        }
    }

    fn advance(&mut self) {
        if !std::mem::take(&mut self.once_more) {
            self.had += 1;
            self.turns.advance();
        }
    }

    /// What can be struck, trodden on or pressed now, and what comes of it.
    pub(super) fn choices(&self, controls: &Controls, keys: bool) -> String {
        let played = self.played.clone().unwrap_or_default();
        let mut said = Vec::new();
        let now = self.now();
        for (order, key) in
            [(Order::Next, Some("g")), (Order::Start, Some("enter")), (Order::Again, Some("a"))]
        {
            let then = match order {
                Order::Again => format!("{} once more", codes(&played, "the same")),
                Order::Next if self.was_stopped && self.had + 1 >= self.rounds() => {
                    "past the end of the list".to_owned()
                }
                Order::Next if self.was_stopped => codes(&self.after(), "the next one"),
                _ if self.is_over() && self.is_list() => {
                    format!("the list from its beginning, {}", codes(&now, "the first one"))
                }
                _ => codes(&now, "once more"),
            };
            said.extend(asked_by(order, key.filter(|_| keys), controls).map(|by| format!("{by}: {then}")));
        }
        said.extend(
            asked_by(Order::Stop, Some("esc").filter(|_| keys), controls).map(|by| format!("{by}: the end")),
        );
        said.join("; ")
    }

    /// Who is called after those who were stopped.
    fn after(&self) -> Vec<(String, String)> {
        let mut turns = self.turns.clone();
        if !self.once_more {
            turns.advance();
        }
        turns.now()
    }
}

/// By what an order is asked for: `next (Pad, note 51)`, `next (Pad, note 51, or g)`; `None` if by nothing.
pub(super) fn asked_by(order: Order, key: Option<&str>, controls: &Controls) -> Option<String> {
    let places = controls.places().iter().filter(|(of, _)| *of == order).map(|(_, place)| place.to_string());
    let by: Vec<String> = places.chain(key.map(|key| format!("key {key}"))).collect();
    (!by.is_empty()).then(|| format!("{} ({})", order.name(), by.join(" or ")))
}

/// `K1`, `K1 and K4`.
fn codes(who: &[(String, String)], nobody: &str) -> String {
    if who.is_empty() {
        return nobody.to_owned();
    }
    who.iter().map(|(_, code)| code.as_str()).collect::<Vec<_>>().join(" and ")
}

#[cfg(test)]
mod tests {
    use input::{NoteRange, Place, Touch};

    use super::*;

    fn calls(codes: &str) -> Calls {
        let codes = codes.split(' ').map(str::to_owned).collect();
        Calls::new(Turns::new([("P1".to_owned(), codes)]))
    }

    fn plays(calls: &mut Calls, finished: bool) -> String {
        let now = codes(&calls.starts(), "?");
        calls.ends(finished);
        now
    }

    #[test]
    fn who_was_stopped_is_called_again_and_nobody_is_passed_over() {
        let mut calls = calls("K1 K2 K3");
        assert_eq!(plays(&mut calls, false), "K1");
        calls.asks(Order::Start);
        assert_eq!(plays(&mut calls, false), "K1", "a drill that was stopped is no turn");
        calls.asks(Order::Again);
        assert_eq!(plays(&mut calls, true), "K1");
        calls.asks(Order::Again);
        assert_eq!(plays(&mut calls, false), "K1");
        calls.asks(Order::Again);
        assert_eq!(plays(&mut calls, true), "K1", "once more, and stopped in it");
        calls.asks(Order::Next);
        assert_eq!(plays(&mut calls, false), "K2");
        calls.asks(Order::Next);
        assert_eq!(plays(&mut calls, true), "K3", "who asks for the next means another than was stopped");
        assert!(calls.is_over());
        calls.asks(Order::Again);
        assert_eq!(plays(&mut calls, true), "K3");
        assert!(calls.is_over());
        calls.asks(Order::Start);
        assert_eq!(plays(&mut calls, true), "K1", "the list begins anew");
        assert!(!calls.is_over());
    }

    #[test]
    fn what_can_be_struck_is_named() {
        let place = |note| {
            let touch = Touch::Notes(NoteRange::new(note, note).expect("a note"));
            Place::port("Pad").and_then(|place| place.with_touch(touch)).expect("a place")
        };
        let controls = Controls::new(vec![
            (Order::Again, place(50)),
            (Order::Next, place(51)),
            (Order::Stop, place(52)),
        ]);
        let mut calls = calls("K1 K2");
        plays(&mut calls, true);
        assert_eq!(
            calls.choices(&controls, false),
            "next (Pad, note 51): K2; again (Pad, note 50): K1 once more; stop (Pad, note 52): the end"
        );
        assert_eq!(
            calls.choices(&Controls::default(), true),
            "next (key g): K2; start (key enter): K2; again (key a): K1 once more; stop (key esc): the end"
        );
        calls.asks(Order::Next);
        plays(&mut calls, false);
        assert_eq!(
            calls.choices(&controls, false),
            "next (Pad, note 51): past the end of the list; again (Pad, note 50): K2 once more; stop (Pad, note 52): the end"
        );
    }
}
