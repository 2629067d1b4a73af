use rhythm::{Bar, BarsOfRest, Deed, Dynamics, Event, Form, Jump, Part, Piece, Repeat, Rhythm};
use timebase::Tempo;

use super::bars::{self, Plan};
use super::line::{self, Line};
use super::score::{Kind, Score, ScorePart, Sign};
use super::unkept::{Losses, Unkept};
use super::{container, document, encoding, for_text, route};
use crate::Error;
use crate::limits::XML_BYTES;

/// Which part and voice of a file is read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// A part's name, in any case, or its number from 1; `None` for all parts.
    pub part: Option<String>,
    /// A voice as [`contents`] names it; `None` for the first of each part.
    pub voice: Option<String>,
}

/// What was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Import {
    /// The rhythm, of one part or of several.
    pub piece: Piece,
    /// What the file says of its rhythm and the piece has no place for, in the order of bars.
    pub unkept: Vec<Unkept>,
}

/// A part of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartContents {
    /// Its number, from 1.
    pub number: usize,
    /// Its name; empty where it has none.
    pub name: String,
    /// How many bars it has.
    pub bars: usize,
    /// Its voices in the order in which they appear.
    pub voices: Vec<VoiceContents>,
}

/// A voice of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VoiceContents {
    /// Its name: what [`Choice::voice`] takes.
    pub name: String,
    /// How many notes it has, a chord counted once, rests and grace notes not.
    pub notes: usize,
}

/// A line of a part that is read.
#[derive(Clone, Copy, Debug)]
struct Chosen {
    part: usize,
    line: Option<Line>,
    voice: Of,
}

/// What a line that is read becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Of {
    /// A part.
    Part,
    /// The first of two parts that share a line.
    Upper,
    /// The second of them.
    Lower,
}

fn parse(bytes: &[u8]) -> Result<Score, Error> {
    let size = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
    if !XML_BYTES.holds(size) {
        return Err(Error::Size { given: bytes.len() as u64, limit: XML_BYTES });
    }
    if container::is_packed(bytes) {
        return document::parse(&encoding::decode(&container::unpack(bytes)?)?);
    }
    document::parse(&encoding::decode(bytes)?)
}

/// The parts and voices of a file, `.musicxml`, `.xml` or `.mxl`.
///
/// # Errors
/// As [`read`], but for what only the making of a rhythm finds.
pub fn contents(bytes: &[u8]) -> Result<Vec<PartContents>, Error> {
    let score = parse(bytes)?;
    let part = |(index, part): (usize, &ScorePart)| {
        let lines = line::lines(part);
        let voices = lines.iter().map(|line| {
            let notes = part.bars.iter().flat_map(|bar| &bar.notes);
            let notes = notes.filter(|note| note.kind == Kind::Note && line.holds(note)).count();
            VoiceContents { name: line.name(part), notes }
        });
        let voices = voices.collect();
        let bars = part.bars.last().map_or(0, |bar| bar.index + 1);
        PartContents { number: index + 1, name: part.name.clone(), bars, voices }
    };
    Ok(score.parts.iter().enumerate().map(part).collect())
}

/// Reads a file, `.musicxml`, `.xml` or `.mxl`, by parts or by bars.
///
/// # Errors
/// If it is damaged, no score, too large or deep; if the part or voice is not there; or if its parts do not make
/// one piece because their bars differ, and none was chosen.
pub fn read(bytes: &[u8], choice: &Choice) -> Result<Import, Error> {
    let score = parse(bytes)?;
    let chosen = chosen(&score, choice)?;
    let mut losses = Losses::default();
    let mut parts: Vec<usize> = chosen.iter().map(|chosen| chosen.part).collect();
    parts.dedup();
    let (plans, tempo) = bars::plan(&score, &parts, &mut losses)?;
    let (repeats, jump) = route::read(&score, &plans, &mut losses);
    let frame = Frame {
        title: score.title.clone(),
        tempo,
        plans: &plans,
        tells_beams: score.tells_beams,
        repeats,
        jump,
    };
    let mut made = Vec::with_capacity(chosen.len());
    for &Chosen { part: index, line, voice } in &chosen {
        let part = &score.parts[index];
        let signs = part.bars.iter().flat_map(|bar| bar.signs.iter().map(move |sign| (bar, sign)));
        for (bar, sign) in signs.filter(|_| voice != Of::Lower) {
            if let Sign::Lost(what) = sign {
                losses.add(what.clone(), plans[bar.index].number);
            }
        }
        let name = match voice {
            Of::Part => &part.name,
            Of::Upper => &part.instruments[0],
            Of::Lower => &part.instruments[1],
        };
        let name = (!name.is_empty()).then(|| name.clone());
        let fault = |source| {
            let part = name.clone().unwrap_or_else(|| (index + 1).to_string());
            Error::Rhythm { part, source }
        };
        let rhythm = match line {
            Some(line) => frame.rhythm(part, line, voice, &mut losses).map_err(fault)?,
            None => frame.silent(part, &mut losses).map_err(fault)?,
        };
        made.push(Part { name, rhythm, shares_line: voice == Of::Lower });
    }
    if choice.voice.is_none() {
        for chosen in chosen.iter().filter(|chosen| chosen.voice == Of::Part) {
            other_voices(&score.parts[chosen.part], chosen.line, &plans, &mut losses);
        }
    }
    for_text::name_apart(&mut made);
    let piece = Piece::new(made).map_err(|source| Error::Rhythm { part: "all".to_owned(), source })?;
    Ok(Import { piece, unkept: losses.listed() })
}

/// The parts that are read, by index, each with its line; no line where a part has no note at all.
fn chosen(score: &Score, choice: &Choice) -> Result<Vec<Chosen>, Error> {
    let listed = |parts: &[ScorePart]| {
        let named = parts.iter().zip(1..).map(|(part, number)| format!("{number} {:?}", part.name));
        named.take(20).collect::<Vec<_>>().join(", ")
    };
    let indices: Vec<usize> = match &choice.part {
        None => (0..score.parts.len()).filter(|&index| !score.parts[index].bars.is_empty()).collect(),
        Some(given) => {
            let by_name = || {
                score.parts.iter().position(|part| part.name.eq_ignore_ascii_case(given) || part.id == *given)
            };
            let number = given.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
            let found = number.filter(|&index| index < score.parts.len()).or_else(by_name);
            let found =
                found.ok_or_else(|| Error::NoPart { given: given.clone(), parts: listed(&score.parts) })?;
            vec![found]
        }
    };
    let mut all = Vec::with_capacity(indices.len());
    for index in indices {
        let part = &score.parts[index];
        let lines = line::lines(part);
        let Some(given) = &choice.voice else {
            match lines.as_slice() {
                // As this program writes hands and feet on one line.
                &[upper, lower] if part.has_one_line && part.instruments.len() == 2 => {
                    all.push(Chosen { part: index, line: Some(upper), voice: Of::Upper });
                    all.push(Chosen { part: index, line: Some(lower), voice: Of::Lower });
                }
                _ => all.push(Chosen { part: index, line: lines.first().copied(), voice: Of::Part }),
            }
            continue;
        };
        let found = lines.iter().find(|line| line.name(part).eq_ignore_ascii_case(given)).copied();
        let voices = || lines.iter().map(|line| line.name(part)).collect::<Vec<_>>().join(", ");
        let line = found.ok_or_else(|| Error::NoVoice {
            part: index + 1,
            given: given.clone(),
            voices: voices(),
        })?;
        all.push(Chosen { part: index, line: Some(line), voice: Of::Part });
    }
    Ok(all)
}

/// Tells in which bars a part has notes of voices that are not read.
fn other_voices(part: &ScorePart, read: Option<Line>, plans: &[Plan], losses: &mut Losses) {
    let Some(read) = read else { return };
    let others: Vec<Line> = line::lines(part).into_iter().filter(|line| *line != read).collect();
    if others.is_empty() {
        return;
    }
    let whose = if part.name.is_empty() { "its part".to_owned() } else { format!("{:?}", part.name) };
    let told: Vec<String> = others
        .iter()
        .map(|line| format!("voice {} of {whose} (choose it to read it)", line.name(part)))
        .collect();
    for bar in &part.bars {
        for (line, what) in others.iter().zip(&told) {
            if bar.notes.iter().any(|note| note.kind == Kind::Note && line.holds(note)) {
                losses.add(what.clone(), plans[bar.index].number);
            }
        }
    }
}

/// What all parts of a piece have alike.
#[derive(Debug)]
struct Frame<'a> {
    title: Option<String>,
    tempo: Option<Tempo>,
    plans: &'a [Plan],
    tells_beams: bool,
    repeats: Vec<Repeat>,
    jump: Option<Jump>,
}

impl Frame<'_> {
    fn rhythm(
        &self,
        part: &ScorePart,
        line: Line,
        voice: Of,
        losses: &mut Losses,
    ) -> Result<Rhythm, rhythm::Error> {
        let mut reader = line::Reader::new(part, line, self.tells_beams);
        let mut bars = Vec::with_capacity(self.plans.len());
        for (index, plan) in self.plans.iter().enumerate() {
            bars.push(reader.bar(index, plan, losses)?);
        }
        reader.drop_grace(losses);
        self.finished(part, bars, voice, losses)
    }

    /// A part without any note: silence in every bar.
    fn silent(&self, part: &ScorePart, losses: &mut Losses) -> Result<Rhythm, rhythm::Error> {
        self.finished(part, self.skeleton()?, Of::Part, losses)
    }

    fn skeleton(&self) -> Result<Vec<Bar>, rhythm::Error> {
        let silent = |plan: &Plan| {
            let rest = Event::new(plan.start, plan.end - plan.start, Deed::Rest);
            Bar::cut(plan.number, plan.meter, Form::Lengths, vec![rest])
        };
        self.plans.iter().map(silent).collect()
    }

    fn finished(
        &self,
        part: &ScorePart,
        bars: Vec<Bar>,
        voice: Of,
        losses: &mut Losses,
    ) -> Result<Rhythm, rhythm::Error> {
        let mut bars = self.struck_where_nothing_sounds(bars, losses)?;
        self.bars_of_rest(part, &mut bars, losses);
        let dynamics = dynamics(part, voice, self.plans, losses);
        let bars = bars
            .into_iter()
            .zip(self.plans)
            .enumerate()
            .map(|(index, (bar, plan))| {
                let bar = bar.with_tempo(plan.tempo);
                dynamics.get(index).map_or(bar.clone(), |dynamics| bar.with_dynamics(*dynamics))
            })
            .collect();
        self.made(bars)
    }

    fn made(&self, bars: Vec<Bar>) -> Result<Rhythm, rhythm::Error> {
        let rhythm = Rhythm::new(self.title.clone(), self.tempo, bars, self.repeats.clone())?;
        match self.jump {
            Some(jump) => rhythm.with_jump(jump),
            None => Ok(rhythm),
        }
    }

    /// A tie that leads over a repeat sign or a jump from silence makes its note a struck one.
    fn struck_where_nothing_sounds(
        &self,
        bars: Vec<Bar>,
        losses: &mut Losses,
    ) -> Result<Vec<Bar>, rhythm::Error> {
        let begins_held = |bar: &Bar| bar.events().first().is_some_and(|event| event.deed == Deed::Hold);
        if self.repeats.is_empty() && self.jump.is_none() || !bars.iter().any(begins_held) {
            return Ok(bars);
        }
        let order = self.made(self.skeleton()?)?.order();
        let mut struck = vec![false; bars.len()];
        let mut sounding = false;
        for index in order {
            if begins_held(&bars[index]) && !sounding {
                struck[index] = true;
            }
            sounding = bars[index].events().last().is_some_and(|event| event.deed != Deed::Rest);
        }
        let change = |(bar, struck): (Bar, bool)| {
            if !struck {
                return Ok(bar);
            }
            let what =
                "a tie that leads from silence when its bar is played again (read as a note struck anew)";
            losses.add(what, bar.number());
            let mut events = bar.events().to_vec();
            events[0].deed = Deed::Attack;
            Bar::cut(bar.number(), bar.meter(), bar.form(), events)?.with_tuplets(bar.tuplets().to_vec())
        };
        bars.into_iter().zip(struck).map(change).collect()
    }

    /// Marks the bars of rest that the part writes as one.
    fn bars_of_rest(&self, part: &ScorePart, bars: &mut [Bar], losses: &mut Losses) {
        for bar in &part.bars {
            let many = bar.signs.iter().find_map(|sign| match sign {
                Sign::BarsOfRest { many } => Some(*many),
                _ => None,
            });
            let Some(of) = many.filter(|&many| many > 1) else { continue };
            let count = usize::try_from(of).unwrap_or(usize::MAX);
            let run = bars.get_mut(bar.index..bar.index.saturating_add(count));
            let marked: Option<Vec<Bar>> = run.as_ref().and_then(|run| {
                let marked = |(bar, index): (&Bar, u32)| bar.clone().with_rest(BarsOfRest { index, of }).ok();
                run.iter().zip(1..).map(marked).collect()
            });
            match (run, marked) {
                (Some(run), Some(marked)) => run.clone_from_slice(&marked),
                _ => losses.add(
                    "bars of rest written as one that are not so many silent bars",
                    self.plans[bar.index].number,
                ),
            }
        }
    }
}

/// How loud every bar is; empty where nothing is written.
fn dynamics(part: &ScorePart, voice: Of, plans: &[Plan], losses: &mut Losses) -> Vec<Dynamics> {
    let is_one =
        |sign: &Sign| matches!(sign, Sign::Level { .. } | Sign::Swell { .. } | Sign::SwellEnd { .. });
    if !part.bars.iter().flat_map(|bar| &bar.signs).any(is_one) {
        return Vec::new();
    }
    let mut all = vec![Dynamics::NONE; plans.len()];
    let mut moved: Vec<(usize, rhythm::Loudness)> = Vec::new();
    let mut ends: Vec<usize> = Vec::new();
    let name = |level: rhythm::Loudness| {
        rhythm::Loudness::NAMED.iter().find(|(_, known)| *known == level).map_or("", |(name, _)| name)
    };
    for bar in &part.bars {
        let (here, plan) = (&mut all[bar.index], &plans[bar.index]);
        let own = |index: usize| match voice {
            Of::Part => true,
            Of::Upper => bar.of_second.binary_search(&index).is_err(),
            Of::Lower => bar.of_second.binary_search(&index).is_ok(),
        };
        for (_, sign) in bar.signs.iter().enumerate().filter(|(index, _)| own(*index)) {
            match *sign {
                Sign::Level { at, level } if !at.is_positive() => {
                    if here.level.is_some_and(|known| known != level) {
                        losses.add(format!("the dynamic {} beside another", name(level)), plan.number);
                    }
                    here.level = here.level.or(Some(level));
                }
                Sign::Level { at, level } => {
                    if plan.start + at < plan.end {
                        let what = format!(
                            "the dynamic {} at {at} in the bar (read at the beginning of the next)",
                            name(level)
                        );
                        losses.add(what, plan.number);
                    }
                    moved.push((bar.index + 1, level));
                }
                Sign::Swell { at, swell } => {
                    if at.is_positive() {
                        losses.add(
                            "where in the bar loudness begins to change (read from its beginning)",
                            plan.number,
                        );
                    }
                    if here.swell.is_some_and(|known| known != swell) {
                        losses.add("a second change of loudness in one bar", plan.number);
                    }
                    here.swell = here.swell.or(Some(swell));
                }
                Sign::SwellEnd { at } => ends.push(if at.is_positive() { bar.index + 1 } else { bar.index }),
                _ => {}
            }
        }
    }
    for (index, level) in moved {
        match all.get_mut(index) {
            Some(dynamics) if dynamics.level.is_none() => dynamics.level = Some(level),
            _ => {}
        }
    }
    for end in ends {
        if all.get(end).is_some_and(|dynamics| *dynamics == Dynamics::NONE) {
            losses.add(
                "where loudness stops changing (read as going on to the next dynamic)",
                plans[end - 1].number,
            );
        }
    }
    all
}
