//! What is heard of MIDI devices beside strokes: that they go and come, that they flood, and soft strokes that wait.

use input::{HeldBack, Notice, PlayerId};

use super::Worker;
use crate::Event;

impl Worker {
    /// Strokes that need not wait any longer are taken in.
    pub(super) fn note_due(&mut self) {
        let now = self.parts.clock.now();
        self.view.tell_of_orders(&mut self.echoes);
        while let Some(stroke) = self.echoes.due(now) {
            self.note(stroke);
        }
    }

    /// Says what happened to a device, and to whom. What sounds of one that has gone is ended.
    pub(super) fn heed_input(&mut self, notice: &Notice) {
        if let Notice::Gone { source, .. } = notice
            && let Some(through) = &mut self.parts.through
        {
            let ended = through.gone(*source, self.parts.clock.now());
            self.passed(ended);
        }
        let who = match notice {
            Notice::Gone { source, .. } | Notice::Back { source, .. } => {
                self.labels(&self.view.players().on(*source))
            }
            _ => Vec::new(),
        };
        self.notice(told(notice, &who));
    }

    /// Where nothing can be sent on any more, nothing is.
    pub(super) fn passed(&mut self, passed: Result<(), input::Error>) {
        if let Err(error) = passed {
            self.parts.through = None;
            self.notice(format!("strokes are sent on no longer: {error}"));
        }
    }

    /// Marks the take where a device sent more than hands can strike, once that is over; where the drill begins or ends, also what goes on.
    pub(super) fn mind_floods(&mut self, all: bool) {
        if self.view.held() == self.held_told {
            return;
        }
        for held in self.view.held_back(self.parts.clock.now(), all) {
            self.held_told += held.messages;
            let Some(run) = &mut self.run else { continue };
            match run.held_back(&held, self.parts.sound.fit()) {
                Ok(marked) => {
                    let who = self.labels(&held.players);
                    self.notice(told_held(&held, &who, marked));
                    // The rows say no longer that it is held back.
                    let states = self.run.as_ref().map(|run| run.states());
                    states.into_iter().for_each(|states| self.tell(Event::Judged(states)));
                }
                Err(error) => self.recording_failed(&error),
            }
        }
        for held in self.view.holding_back() {
            let Some(run) = &mut self.run else { return };
            if let Err(error) = run.holding_back(&held, self.parts.sound.fit()) {
                self.recording_failed(&error);
            }
        }
    }

    /// What players are called in the drill that runs, or else.
    fn labels(&self, ids: &[PlayerId]) -> Vec<String> {
        let players = self.view.players();
        let usual = |id| players.player(id).map_or_else(|| id.to_string(), input::Player::label);
        ids.iter()
            .map(|&id| self.run.as_ref().map_or_else(|| usual(id), |run| run.label(id, &players)))
            .collect()
    }
}

/// A notice of the input in a sentence, and who plays on the device.
fn told(notice: &Notice, who: &[String]) -> String {
    match notice {
        Notice::Gone { port, .. } => match who {
            [] => format!("\"{port}\" has gone; it is listened to again when it is back"),
            [one] => format!("\"{port}\" has gone: {one} plays on when it is back"),
            _ => format!("\"{port}\" has gone: {} play on when it is back", all_of(who)),
        },
        Notice::Back { port, .. } => match who {
            [] => format!("\"{port}\" is back"),
            [one] => format!("\"{port}\" is back: {one} plays on"),
            _ => format!("\"{port}\" is back: {} play on", all_of(who)),
        },
        Notice::New(port) => format!("\"{port}\" was plugged in and is listened to"),
        Notice::CannotOpen { port, why } => format!(
            "\"{port}\" cannot be opened ({why}): close the program that holds it; it is tried again every second"
        ),
        Notice::Twice { name } => format!(
            "there are two devices of one name; the later one is called \"{name}\". Do not unplug both at once"
        ),
        Notice::Ambiguous { part, meant, other } => format!(
            "\"{part}\" is a part of two devices' names, \"{meant}\" and \"{other}\": the first is meant; write more of the name to \
             mean the other"
        ),
        Notice::Flood { name } => format!(
            "\"{name}\" sends more than hands can strike and is held back, the other pads are not: check its cable and its settings, or \
             unplug it"
        ),
    }
}

/// What was held back, in a sentence.
fn told_held(held: &HeldBack, who: &[String], marked: bool) -> String {
    let lost = match who {
        [] => String::new(),
        _ => format!(", and what {} struck there with them", all_of(who)),
    };
    let marked = if marked { ". The take is marked there" } else { "" };
    format!(
        "\"{}\": {} messages in {:.1} s, more than hands can strike, were held back{lost}{marked}",
        held.name,
        held.messages,
        held.length().as_secs_f64()
    )
}

/// `K1`, `K1 and K2`, `K1, K2 and K3`.
fn all_of(who: &[String]) -> String {
    match who {
        [] => String::new(),
        [one] => one.clone(),
        [others @ .., last] => format!("{} and {last}", others.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use input::Port;

    use super::*;

    #[test]
    fn it_is_said_whose_device_has_gone() {
        let port = Port::new("Pad 20:0", "Pad 20:0");
        let gone = Notice::Gone { port: port.clone(), source: 0 };
        let check = |notice: &Notice, who: &[&str], expected: &str| {
            let who: Vec<String> = who.iter().map(|&who| who.to_owned()).collect();
            assert_eq!(told(notice, &who), expected);
        };
        check(&gone, &[], "\"Pad 20:0\" has gone; it is listened to again when it is back");
        check(&gone, &["K2"], "\"Pad 20:0\" has gone: K2 plays on when it is back");
        check(&gone, &["K1", "K2", "K3"], "\"Pad 20:0\" has gone: K1, K2 and K3 play on when it is back");
        check(&Notice::Back { port, source: 0 }, &["K1", "K2"], "\"Pad 20:0\" is back: K1 and K2 play on");
    }
}
