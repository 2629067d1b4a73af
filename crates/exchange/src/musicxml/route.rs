use rhythm::limits::TIMES_THROUGH;
use rhythm::{Ending, Jump, Repeat, Until};

use super::bars::Plan;
use super::score::{Passes, Score, Sign, Target};
use super::unkept::Losses;

/// What the parts of a file say together of the way through it, bar by bar.
#[derive(Debug, Default)]
struct Signs {
    repeat_begin: bool,
    repeat_end: Option<u32>,
    ending_begin: Option<Passes>,
    ending_end: bool,
    segno: bool,
    coda: bool,
    to_coda: bool,
    fine: bool,
    jump: Option<(bool, Option<Target>)>,
}

/// The repeated passages of a file and its jump.
pub(super) fn read(score: &Score, plans: &[Plan], losses: &mut Losses) -> (Vec<Repeat>, Option<Jump>) {
    let signs = gather(score, plans);
    if signs.is_empty() {
        return (Vec::new(), None);
    }
    let repeats = repeats(&signs, plans, losses);
    (repeats, jump(&signs, plans, losses))
}

/// Empty where no part has any such sign.
fn gather(score: &Score, plans: &[Plan]) -> Vec<Signs> {
    let mut all: Vec<Signs> = Vec::new();
    let bars = score.parts.iter().flat_map(|part| &part.bars);
    for (bar, sign) in bars.flat_map(|bar| bar.signs.iter().map(move |sign| (bar, sign))) {
        let routes = matches!(
            sign,
            Sign::RepeatBegin
                | Sign::RepeatEnd { .. }
                | Sign::EndingBegin { .. }
                | Sign::EndingEnd
                | Sign::Segno { .. }
                | Sign::Coda { .. }
                | Sign::ToCoda
                | Sign::Fine
                | Sign::DaCapo { .. }
                | Sign::DalSegno { .. }
        );
        if !routes {
            continue;
        }
        if all.is_empty() {
            all.resize_with(plans.len(), Signs::default);
        }
        // A sign that stands at the end of a bar belongs to the beginning of the next.
        let plan = plans[bar.index];
        let after = |at: timebase::Span| at.is_positive() && plan.start + at >= plan.end;
        let place = match sign {
            Sign::Segno { at } | Sign::Coda { at } if after(*at) => bar.index + 1,
            _ => bar.index,
        };
        let Some(here) = all.get_mut(place) else { continue };
        match sign {
            Sign::RepeatBegin => here.repeat_begin = true,
            Sign::RepeatEnd { times } => here.repeat_end = here.repeat_end.max(Some(*times)),
            Sign::EndingBegin { passes } => {
                here.ending_begin.get_or_insert(*passes);
            }
            Sign::EndingEnd => here.ending_end = true,
            Sign::Segno { .. } => here.segno = true,
            Sign::Coda { .. } => here.coda = true,
            Sign::ToCoda => here.to_coda = true,
            Sign::Fine => here.fine = true,
            Sign::DaCapo { words } => here.jump = Some(later(here.jump, false, *words)),
            Sign::DalSegno { words } => here.jump = Some(later(here.jump, true, *words)),
            _ => {}
        }
    }
    all
}

/// Words and sound in several parts say one thing; the one that knows where to is kept.
fn later(
    known: Option<(bool, Option<Target>)>,
    from_sign: bool,
    words: Option<Target>,
) -> (bool, Option<Target>) {
    match known {
        Some((known_sign, known_words)) => (known_sign || from_sign, known_words.or(words)),
        None => (from_sign, words),
    }
}

/// A passage while its end is looked for.
#[derive(Debug, Default)]
struct Passage {
    start: usize,
    /// Whether a sign begins it.
    signed: bool,
    endings: Vec<Ending>,
    open: Option<(usize, Passes)>,
    /// The latest time through that an ending is for so far.
    most: u32,
}

impl Passage {
    fn new(start: usize) -> Self {
        Self { start, ..Self::default() }
    }

    fn close(&mut self, end: usize) {
        let Some((start, mut passes)) = self.open.take() else { return };
        if passes.is_empty() {
            // An ending without a number is the next.
            passes.add(self.most + 1);
        }
        let passes = passes.list();
        self.most = passes.last().copied().unwrap_or(0).max(self.most);
        if i64::try_from(self.endings.len()).is_ok_and(|many| many <= TIMES_THROUGH.most) {
            // One more than there can be is enough to see that they are too many.
            self.endings.push(Ending { bars: start..end, passes });
        }
    }

    /// The passage as far as its endings go; the bar behind a lone first ending is its second.
    fn finished(mut self, bars: usize, next_begins: bool) -> Result<Repeat, usize> {
        let start = self.start;
        let named = |endings: &[Ending]| {
            let mut passes: Vec<u32> =
                endings.iter().flat_map(|ending| ending.passes.iter().copied()).collect();
            passes.sort_unstable();
            passes
        };
        let mut passes = named(&self.endings);
        let end = self.endings.last().map_or(start, |last| last.bars.end);
        let last = passes.last().copied().unwrap_or(0);
        let is_lone = passes.iter().copied().eq(1..=last) && self.endings.len() == 1;
        if is_lone && end < bars && !next_begins {
            self.endings.push(Ending { bars: end..end + 1, passes: vec![last + 1] });
            passes = named(&self.endings);
        }
        let times = u32::try_from(passes.len()).unwrap_or(u32::MAX);
        let times_held = TIMES_THROUGH.holds(i64::from(times));
        let side_by_side = self.endings.windows(2).all(|pair| pair[0].bars.end == pair[1].bars.start);
        let first = self.endings.first().map_or(start, |ending| ending.bars.start);
        let end = self.endings.last().map_or(start, |last| last.bars.end);
        if passes.into_iter().eq(1..=times) && times_held && side_by_side && first >= start && end <= bars {
            // One ending for every time through is none.
            let endings = if self.endings.len() == 1 { Vec::new() } else { self.endings };
            Ok(Repeat { bars: start..end, times, endings })
        } else {
            Err(first)
        }
    }
}

/// One way along the bars from sign to sign.
#[derive(Debug)]
struct Walk<'a> {
    signs: &'a [Signs],
    plans: &'a [Plan],
    losses: &'a mut Losses,
    found: Vec<Repeat>,
    passage: Passage,
}

fn repeats(signs: &[Signs], plans: &[Plan], losses: &mut Losses) -> Vec<Repeat> {
    let mut walk = Walk { signs, plans, losses, found: Vec::new(), passage: Passage::new(0) };
    for (index, here) in signs.iter().enumerate() {
        if here.repeat_begin && here.ending_begin.is_some() && !walk.passage.endings.is_empty() {
            // Passages do not overlap: the bar belongs to the one it ends.
            let what = "a repeat that begins with an ending of the one before (read from the bar behind it)";
            walk.losses.add(what, plans[index].number);
        } else if here.repeat_begin {
            walk.begin(index);
        }
        if let Some(passes) = &here.ending_begin {
            walk.passage.close(index);
            walk.passage.open = Some((index, *passes));
        }
        let goes_on = signs.get(index + 1).is_some_and(|next| next.ending_begin.is_some());
        // An ending whose beginning nobody wrote is one bar.
        if here.ending_end && here.repeat_end.is_some() && walk.passage.open.is_none() {
            walk.passage.open = Some((index, Passes::default()));
        }
        match here.repeat_end {
            Some(times) if walk.passage.open.is_none() => walk.end_alike(index, times),
            None if !here.ending_end || walk.ends_at_a_later_sign(index) => {}
            _ => {
                walk.passage.close(index + 1);
                if !goes_on && !walk.passage.endings.is_empty() {
                    walk.finish(index + 1);
                }
            }
        }
    }
    walk.leave_open(signs.len());
    walk.found
}

impl Walk<'_> {
    /// Whether the sign that ends the first ending stands some bars behind its bracket, which ends with bar `index`: it
    /// is the next sign, and the next ending begins behind it.
    fn ends_at_a_later_sign(&self, index: usize) -> bool {
        let is_sign =
            |signs: &Signs| signs.repeat_begin || signs.repeat_end.is_some() || signs.ending_begin.is_some();
        if self.passage.open.is_none() || !self.passage.endings.is_empty() {
            return false;
        }
        let behind = &self.signs[index + 1..];
        let Some(next) = behind.iter().position(is_sign) else { return false };
        let ends = behind[next].repeat_end.is_some() && behind[next].ending_begin.is_none();
        let begins = behind.get(next + 1).is_some_and(|signs| signs.ending_begin.is_some());
        ends && !behind[next].repeat_begin && begins
    }

    /// A sign begins a passage, and so ends the one before.
    fn begin(&mut self, index: usize) {
        self.leave_open(index);
        if self.passage.signed && self.passage.start < index {
            let number = self.plans[self.passage.start].number;
            self.losses.add("a repeat that begins and does not end", number);
        }
        self.passage = Passage { signed: true, ..Passage::new(index) };
    }

    /// An ending whose end nobody wrote is one bar.
    fn leave_open(&mut self, end: usize) {
        if let Some((start, _)) = &self.passage.open {
            let end = (start + 1).min(end);
            self.passage.close(end);
        }
        if !self.passage.endings.is_empty() {
            self.finish(end);
        }
    }

    /// A passage without endings ends with bar `index`.
    fn end_alike(&mut self, index: usize, times: u32) {
        if self.passage.start <= index {
            self.found.push(Repeat::new(self.passage.start..index + 1, times));
        } else {
            self.losses.add("a repeat inside another", self.plans[index].number);
        }
        self.passage = Passage::new(self.passage.start.max(index + 1));
    }

    /// The endings of the passage are all there; it goes on with bar `next`.
    fn finish(&mut self, next: usize) {
        let next_begins = self.signs.get(next).is_some_and(|signs| signs.repeat_begin);
        let passage = std::mem::take(&mut self.passage);
        match passage.finished(self.signs.len(), next_begins) {
            Ok(repeat) => {
                self.passage = Passage::new(repeat.bars.end.max(next));
                self.found.push(repeat);
            }
            Err(first) => {
                let what = "endings that do not name each time through once (read without the repeat)";
                self.losses.add(what, self.plans[first].number);
                self.passage = Passage::new(next);
            }
        }
    }
}

fn jump(signs: &[Signs], plans: &[Plan], losses: &mut Losses) -> Option<Jump> {
    let places = |is: fn(&Signs) -> bool| -> Vec<usize> {
        signs.iter().enumerate().filter(|(_, signs)| is(signs)).map(|(index, _)| index).collect()
    };
    let (codas, to_codas) = (places(|s| s.coda), places(|s| s.to_coda));
    let (segnos, fines) = (places(|s| s.segno), places(|s| s.fine));
    let jumps = places(|s| s.jump.is_some());
    for &index in jumps.iter().skip(1) {
        losses.add("a second jump back", plans[index].number);
    }
    let Some(&after) = jumps.first() else {
        for index in [codas, to_codas, segnos, fines].concat() {
            losses.add("a sign that no jump leads to", plans[index].number);
        }
        return None;
    };
    let (from_sign, words) = signs[after].jump?;
    let to = if from_sign { segnos.iter().rev().find(|&&segno| segno <= after).copied() } else { Some(0) };
    let Some(to) = to else {
        losses.add("a jump to a sign that is not there", plans[after].number);
        return None;
    };
    let fine = fines.iter().find(|&&fine| to <= fine && fine < after).map(|&fine| Until::Fine(fine));
    let coda = || {
        let coda = codas.iter().find(|&&coda| coda > after).copied()?;
        // `To Coda`, or the first of two coda signs.
        let between = |&&place: &&usize| to <= place && place <= after;
        let leave = to_codas.iter().find(between).or_else(|| codas.iter().find(between)).copied()?;
        (leave < coda).then_some(Until::Coda { leave, coda })
    };
    let until = match words {
        Some(Target::Fine) => fine,
        Some(Target::Coda) => coda(),
        None => fine.or_else(coda).or(Some(Until::End)),
    };
    if until.is_none() {
        losses.add("where a jump back ends (read to the end)", plans[after].number);
    }
    Some(Jump { after, to, from_sign, until: until.unwrap_or(Until::End) })
}
