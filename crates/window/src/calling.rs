//! Many pupils at few pads: who is called, and when the drill goes on.

use live::Turns;

use crate::lesson::codes;

/// How long the next one has to come to the pad where nobody need ask, in seconds.
pub(crate) const COMES: f64 = 8.0;

/// The lists of those who take turns, and whose turn it is. Times are the window's own, in seconds.
#[derive(Debug, Default)]
pub(crate) struct Calling {
    /// Each pad and its pupils, as they are typed.
    pub(crate) lists: Vec<(String, String)>,
    /// Whether the drill starts by itself for the next one.
    pub(crate) by_itself: bool,
    turns: Option<Turns>,
    /// Who played last.
    played: Vec<(String, String)>,
    /// Whether the last one plays once more, so that nobody is passed over.
    once_more: bool,
    /// When the drill starts by itself.
    due: Option<f64>,
    /// Whether everybody has played, and the list begins anew.
    is_over: bool,
    /// Whether the last drill was stopped before its end.
    was_stopped: bool,
}

impl Calling {
    /// These pupils take turns from the start.
    pub(crate) fn of(lists: &[(String, Vec<String>)]) -> Self {
        let lists = lists.iter().map(|(pad, codes)| (pad.clone(), codes.join(" "))).collect();
        let mut calling = Self { lists, ..Self::default() };
        calling.begin();
        calling
    }

    /// Sees to it that each of these pads has a list.
    pub(crate) fn at_pads(&mut self, pads: &[String]) {
        for pad in pads {
            if !self.lists.iter().any(|(known, _)| known == pad) {
                self.lists.push((pad.clone(), String::new()));
            }
        }
        self.lists.retain(|(pad, typed)| !typed.trim().is_empty() || pads.contains(pad));
    }

    /// Calls the first of the lists. Says whether anybody is on one.
    pub(crate) fn begin(&mut self) -> bool {
        let turns = Turns::new(self.lists.iter().map(|(pad, typed)| (pad.clone(), codes(typed))));
        *self = Self {
            lists: std::mem::take(&mut self.lists),
            by_itself: self.by_itself,
            turns: (turns.rounds() > 0).then_some(turns),
            ..Self::default()
        };
        self.is_on()
    }

    /// Nobody takes turns any more.
    pub(crate) fn end(&mut self) {
        self.turns = None;
        self.due = None;
    }

    /// Whether somebody takes turns.
    pub(crate) fn is_on(&self) -> bool {
        self.turns.is_some()
    }

    /// Whether everybody has played, and the list begins anew.
    pub(crate) fn is_over(&self) -> bool {
        self.is_on() && self.is_over
    }

    /// Who plays next: each pad and the code at it.
    pub(crate) fn now(&self) -> Vec<(String, String)> {
        match (&self.turns, self.once_more) {
            (Some(_), true) => self.played.clone(),
            (Some(turns), false) => turns.now(),
            (None, _) => Vec::new(),
        }
    }

    /// Who is called after those.
    pub(crate) fn then(&self) -> Vec<(String, String)> {
        let Some(turns) = &self.turns else { return Vec::new() };
        let mut turns = turns.clone();
        if !self.once_more {
            turns.advance();
        }
        turns.now()
    }

    /// A drill begins for those whose turn it is.
    pub(crate) fn starts(&mut self) -> Vec<(String, String)> {
        (self.due, self.is_over, self.was_stopped) = (None, false, false);
        self.played = self.now();
        self.played.clone()
    }

    /// A drill is over at `now`. The next ones are called when it was played to its end.
    pub(crate) fn ends(&mut self, finished: bool, now: f64) {
        self.was_stopped = !finished;
        if finished && self.is_on() {
            self.advance();
            self.due = (self.by_itself && !self.is_over).then_some(now + COMES);
        }
    }

    /// The last ones play once more. Says whether there are any.
    pub(crate) fn again(&mut self) -> bool {
        self.once_more =
            self.is_on() && !self.played.is_empty() && self.played != self.now() || self.once_more;
        self.is_on()
    }

    /// Somebody asks for the next ones: those whose drill was stopped are passed over.
    pub(crate) fn next(&mut self) {
        if std::mem::take(&mut self.was_stopped) {
            self.advance();
        }
    }

    /// Calls the next ones, whether or not the others have played.
    pub(crate) fn advance(&mut self) {
        if !std::mem::take(&mut self.once_more)
            && let Some(turns) = &mut self.turns
        {
            self.is_over = turns.advance();
        }
        self.due = None;
    }

    /// Whether the drill is to start now; asked for, once.
    pub(crate) fn is_due(&mut self, now: f64) -> bool {
        let is_due = self.due.is_some_and(|due| due <= now);
        if is_due {
            self.due = None;
        }
        is_due
    }

    /// In how many seconds the drill starts by itself.
    pub(crate) fn wait(&self, now: f64) -> Option<f64> {
        self.due.map(|due| (due - now).max(0.0))
    }

    /// Whether the drill starts by itself.
    pub(crate) fn begins_by_itself(&self) -> bool {
        self.due.is_some()
    }

    /// It waits for whoever asks for it.
    pub(crate) fn holds(&mut self) {
        self.due = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn calling(lists: &[(&str, &str)]) -> Calling {
        let lists = lists.iter().map(|&(pad, typed)| (pad.to_owned(), codes(typed))).collect::<Vec<_>>();
        Calling::of(&lists)
    }

    fn told(who: &[(String, String)]) -> String {
        who.iter().map(|(pad, code)| format!("{pad} {code}")).collect::<Vec<_>>().join(", ")
    }

    #[test]
    fn each_is_called_in_turn_and_the_one_who_was_stopped_again() {
        let mut calling = calling(&[("P1", "K1 K2 K3"), ("P2", "K4")]);
        assert_eq!(told(&calling.now()), "P1 K1, P2 K4");
        assert_eq!(told(&calling.then()), "P1 K2, P2 K4");
        calling.starts();
        calling.ends(false, 0.0);
        assert_eq!(told(&calling.now()), "P1 K1, P2 K4", "a drill that was stopped is no turn");
        calling.starts();
        calling.ends(true, 0.0);
        calling.next();
        assert_eq!(told(&calling.now()), "P1 K2, P2 K4");
        calling.advance();
        assert_eq!(told(&calling.now()), "P1 K3, P2 K4", "a turn can be passed over");
        calling.starts();
        calling.ends(true, 0.0);
        assert!(calling.is_over());
        assert_eq!(told(&calling.now()), "P1 K1, P2 K4");
        calling.starts();
        calling.ends(false, 0.0);
        calling.next();
        assert_eq!(
            told(&calling.now()),
            "P1 K2, P2 K4",
            "who asks for the next means another than was stopped"
        );
    }

    #[test]
    fn once_more_passes_nobody_over() {
        let mut calling = calling(&[("P1", "K1 K2")]);
        calling.starts();
        calling.ends(true, 0.0);
        assert!(calling.again());
        assert_eq!(told(&calling.now()), "P1 K1");
        assert_eq!(told(&calling.then()), "P1 K2");
        calling.starts();
        calling.ends(true, 0.0);
        assert_eq!(told(&calling.now()), "P1 K2");
    }

    #[test]
    fn it_goes_on_by_itself_until_everybody_has_played() {
        let mut calling = calling(&[("P1", "K1 K2")]);
        calling.by_itself = true;
        calling.starts();
        calling.ends(true, 100.0);
        assert_eq!(calling.wait(100.0), Some(COMES));
        assert!(!calling.is_due(100.0 + COMES - 0.1));
        assert!(calling.is_due(100.0 + COMES));
        assert!(!calling.is_due(200.0), "once");
        calling.starts();
        calling.ends(true, 200.0);
        assert!(calling.is_over() && calling.wait(200.0).is_none());
    }

    #[test]
    fn lists_follow_the_pads_and_what_was_typed_stays() {
        let mut calling = calling(&[("P1", "K1 K2")]);
        calling.at_pads(&["P1".to_owned(), "P2".to_owned()]);
        assert_eq!(calling.lists.len(), 2);
        calling.at_pads(&["P3".to_owned()]);
        let pads: Vec<_> = calling.lists.iter().map(|(pad, _)| pad.as_str()).collect();
        assert_eq!(pads, ["P1", "P3"]);
        calling.lists.iter_mut().for_each(|(_, typed)| typed.clear());
        assert!(!calling.begin() && calling.now().is_empty());
    }
}
