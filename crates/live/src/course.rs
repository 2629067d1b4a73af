//! A drill plan under way: round after round laid out in time, weighed when it is over, and told of.

use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;

use mixer::Programme;
use sequencer::drill::{Outcome, Round, RoundBar, RoundKind, Rounds, SectionKind};
use sequencer::limits::LEAD_IN;
use sequencer::{Sounding, Sounds};
use take::{Click, DrilledRound};
use timebase::{Frame, Frames, Moment, Position, SampleRate, Seconds, Tempo};

use crate::asked::Asked;
use crate::{Answered, Error, Part, Planned, RoundOver, Tally};

/// So long before a round begins to sound it is made ready at the latest, a block of the device left out: longer than that takes.
const READY: Seconds = Seconds::from_millis(150);

/// A programme that is to follow the one before it.
#[derive(Clone, Debug)]
pub(crate) struct Follower {
    pub(crate) programme: Programme,
    /// The frame of the one before on which it begins.
    pub(crate) at: Frame,
}

/// A round that has been made ready, and when it begins.
#[derive(Debug)]
pub(crate) struct Beginning {
    /// When its first part begins.
    from: Moment,
    /// As the take keeps it, in the drill's own time.
    pub(crate) round: DrilledRound,
    /// Its felt beats, in the drill's own time.
    pub(crate) beats: Vec<(Moment, bool)>,
}

/// What is new after a round was made ready.
#[derive(Debug)]
pub(crate) struct Ready {
    pub(crate) follower: Follower,
    pub(crate) asked: Vec<Asked>,
}

#[derive(Debug)]
pub(crate) struct Course {
    planned: Planned,
    rounds: Rounds,
    sounds: Sounds,
    rate: SampleRate,
    last: Last,
    /// Whether no round comes after the last one.
    is_over: bool,
    parts: VecDeque<Part>,
    beginnings: VecDeque<Beginning>,
    /// Rounds that were asked and are not judged.
    open: VecDeque<Open>,
    /// Who has struck at all.
    struck: BTreeSet<String>,
}

/// The round that was made ready last. Frames count from the drill's zero.
#[derive(Debug)]
struct Last {
    number: usize,
    bar_one: Frame,
    length: Frames,
    /// The first frame of its programme.
    begins: Frame,
    /// Before it the next one cannot begin to sound.
    ends: Frame,
    end: Moment,
}

#[derive(Debug)]
struct Open {
    over: RoundOver,
    responses: usize,
    /// Whether the next round was laid out by what is in `over`.
    is_told: bool,
}

impl Course {
    /// The first round of a plan, made ready to sound.
    pub(crate) fn begin(planned: Planned, sounds: Sounds) -> Result<(Self, Sounding, Vec<Asked>), Error> {
        let mut rounds = planned.drill.rounds();
        // A plan has at least one rhythm and is gone through at least once.
        let round = rounds.next_round().ok_or(Error::NoRound)?;
        let sounding = sounds.lower_round(&round)?;
        let mut course = Self {
            rate: sounding.rate(),
            last: Last::of(&round, &sounding),
            planned,
            rounds,
            sounds,
            is_over: false,
            parts: VecDeque::new(),
            beginnings: VecDeque::new(),
            open: VecDeque::new(),
            struck: BTreeSet::new(),
        };
        let asked = course.enter(&round);
        Ok((course, sounding, asked))
    }

    pub(crate) fn planned(&self) -> &Planned {
        &self.planned
    }

    /// The tempo of the first round.
    pub(crate) fn first_tempo(&self) -> Tempo {
        self.beginnings
            .front()
            .map_or_else(|| self.planned.drill.rhythms()[0].rhythm().tempo(), |first| first.round.tempo)
    }

    /// When the first thing is heard that is no count-in.
    pub(crate) fn first_sound(&self) -> Moment {
        let counted = |part: &&Part| !matches!(part.section, SectionKind::CountIn | SectionKind::Rest);
        self.parts.iter().find(counted).map_or(Moment::ZERO, |part| part.from)
    }

    /// When the last round ends, once it is known which that is.
    pub(crate) fn end(&self) -> Option<Moment> {
        self.is_over.then_some(self.last.end)
    }

    /// How long the programmes last together, from the first frame of the first, whose frame `bar_one` is the drill's zero;
    /// nothing while another may come.
    pub(crate) fn length(&self, bar_one: Frame) -> Option<Frames> {
        let from = bar_one - self.last.bar_one;
        self.is_over.then(|| from + self.last.length)
    }

    /// Whether the next round has to be made ready, where the mixer has reached this frame of the drill and the device asks for so
    /// many frames at once. What depends on how a round went waits as long as it can.
    pub(crate) fn is_due(&self, rendered: Frame, block: Frames) -> bool {
        let from = if self.planned.drill.depends_on_outcomes() {
            self.last.ends - Frames::of(LEAD_IN + READY, self.rate) - block
        } else {
            self.last.begins
        };
        !self.is_over && rendered >= from
    }

    /// What the round laid out last has become so far, from what is judged of the responses that are not over yet.
    pub(crate) fn weigh<'a>(&mut self, asked: impl Iterator<Item = &'a Asked>) {
        let last = self.last.number;
        let Some(open) = self.open.back_mut().filter(|open| open.over.round == last) else { return };
        let over = open.over.answers.iter().map(|answered| answered.tally);
        let number = open.over.round;
        let under_way = asked.filter(|asked| asked.round == number).map(|asked| asked.tally(&self.struck));
        let tally = over.chain(under_way).fold(Tally::default(), Tally::and);
        open.over.outcome = tally.outcome(self.planned.good_percent);
        open.is_told = self.planned.drill.depends_on_outcomes();
        if let Some(outcome) = open.over.outcome {
            self.rounds.told(outcome);
        }
    }

    /// Lays out the next round; nothing where the plan is over.
    pub(crate) fn next(&mut self) -> Result<Option<Ready>, Error> {
        let Some(round) = self.rounds.next_round() else {
            self.is_over = true;
            return Ok(None);
        };
        let sounding = self.sounds.lower_round(&round)?;
        let at = Frame::ZERO + (self.last.bar_one - sounding.bar_one());
        let follower = Follower { programme: sounding.programme().clone(), at };
        self.last = Last::of(&round, &sounding);
        let asked = self.enter(&round);
        Ok(Some(Ready { follower, asked }))
    }

    /// The rhythms' rounds as parts, and what they ask.
    fn enter(&mut self, round: &Round) -> Vec<Asked> {
        let players = &self.planned.drill.plan().turns.players;
        let rhythm = self.planned.drill.rhythms()[round.rhythm()].rhythm();
        let at = |place: Position| round.tempo_map().moment_at(place);
        let name =
            |number: usize| round.responses().get(number)?.player().and_then(|player| players.get(player));
        let mut asked = Vec::new();
        for section in round.sections() {
            let SectionKind::Response(number) = section.kind else { continue };
            let Some(response) = round.responses().get(number) else { continue };
            asked.extend(Asked::response(round, response, rhythm, name(number).cloned(), at(section.to)));
        }
        // Where bar 1 would fall: of the response, and of what is heard before it by as much earlier as its first bar line is.
        let bar_one = |kind: SectionKind| match kind {
            SectionKind::Model => Some(at(Position::ZERO)),
            SectionKind::Response(number) => asked.get(number).map(|asked| asked.bar_one),
            SectionKind::Call => {
                let (asked, response) = (asked.first()?, round.responses().first()?);
                Some(asked.bar_one - (at(response.zero()) - at(Position::ZERO)))
            }
            SectionKind::Rest | SectionKind::CountIn | SectionKind::Breath => None,
        };
        let played: Arc<[RoundBar]> = Arc::from(round.played());
        let mut parts: Vec<Part> = Vec::new();
        let mut next = None;
        for section in round.sections().iter().rev() {
            next = bar_one(section.kind).or(next);
            let player = match section.kind {
                SectionKind::Response(number) => name(number).cloned(),
                _ => None,
            };
            parts.push(Part {
                round: round.number(),
                kind: round.kind(),
                section: section.kind,
                rhythm: round.rhythm(),
                bars: round.bars(),
                played: Arc::clone(&played),
                tempo: round.tempo(),
                entry_tempo: round.entry_tempo(),
                player,
                is_hidden: section.is_hidden,
                from: at(section.from),
                to: at(section.to),
                bar_one: next.unwrap_or(Moment::ZERO),
            });
        }
        parts.reverse();
        let mut reached = self.parts.back().map(|part| part.to);
        for part in &mut parts {
            // The pickup of what comes next falls inside the part before, which is still that one.
            part.from = reached.map_or(part.from, |reached| part.from.max(reached));
            reached = Some(part.to);
        }
        self.beginnings.push_back(Beginning {
            from: parts.first().map_or(round.starts(), |part| part.from),
            round: DrilledRound {
                number: round.number(),
                rhythm: round.rhythm(),
                bars: round.bars(),
                tempo: round.tempo(),
                from: round.starts(),
                to: round.ends(),
                responses: asked.iter().map(|asked| asked.note(Moment::ZERO)).collect(),
                good: None,
            },
            beats: round.beats().iter().map(|&(place, first)| (at(place), first)).collect(),
        });
        self.parts.extend(parts);
        if round.kind() != RoundKind::Model {
            self.open.push_back(Open {
                over: RoundOver {
                    round: round.number(),
                    rhythm: round.rhythm(),
                    bars: round.bars(),
                    played,
                    tempo: round.tempo(),
                    entry_tempo: round.entry_tempo(),
                    answers: Vec::new(),
                    outcome: None,
                },
                responses: asked.len(),
                is_told: false,
            });
        }
        asked
    }

    /// The round that has begun by now, once.
    pub(crate) fn begun(&mut self, heard: Moment) -> Option<Beginning> {
        self.beginnings.pop_front_if(|beginning| beginning.from <= heard)
    }

    /// The part that has begun by now, once.
    pub(crate) fn part(&mut self, heard: Moment) -> Option<Part> {
        self.parts.pop_front_if(|part| part.from <= heard)
    }

    /// A response has been judged for good; tells the round it belongs to, where it was the last.
    pub(crate) fn answered(&mut self, asked: &Asked) -> Option<RoundOver> {
        let tally = asked.tally(&self.struck);
        let struck = asked.players.iter().filter(|player| player.has_struck());
        self.struck.extend(struck.map(|player| player.label.clone()));
        let good_percent = self.planned.good_percent;
        let open = self.open.front_mut().filter(|open| open.over.round == asked.round)?;
        open.over.answers.push(Answered {
            player: asked.who.clone(),
            bar_one: asked.bar_one,
            players: asked.states(),
            tally,
        });
        if open.over.answers.len() < open.responses {
            return None;
        }
        let Open { mut over, is_told, .. } = self.open.pop_front()?;
        if !is_told {
            let tallies = over.answers.iter().map(|answered| answered.tally);
            over.outcome = tallies.fold(Tally::default(), Tally::and).outcome(good_percent);
        }
        Some(over)
    }
}

impl Last {
    fn of(round: &Round, sounding: &Sounding) -> Self {
        let last = round.sections().last().map_or(round.end(), |section| section.to);
        let bar_one = sounding.bar_one();
        Self {
            number: round.number(),
            bar_one,
            length: sounding.programme().length(),
            begins: Frame::ZERO - (bar_one - Frame::ZERO),
            ends: round.tempo_map().frame_at(last, sounding.rate()),
            end: round.ends(),
        }
    }
}

/// The felt beats of a round as the take keeps them, in whose own time the drill's zero falls at `zero`.
pub(crate) fn clicks(beats: &[(Moment, bool)], zero: Moment) -> Vec<Click> {
    beats.iter().map(|&(at, accented)| Click { at: zero + at.since_zero(), accented }).collect()
}

/// What a round became, as the take keeps it.
pub(crate) fn is_good(outcome: Outcome) -> bool {
    outcome == Outcome::Good
}
