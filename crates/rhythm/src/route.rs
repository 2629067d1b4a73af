use std::ops::Range;

use crate::Error;
use crate::limits::TIMES_THROUGH;

/// A passage that is played more than once.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Repeat {
    /// The written bars it holds, its endings included, as indices into [`Rhythm::bars`](crate::Rhythm::bars).
    pub bars: Range<usize>,
    /// How often it is played in all: at least 2.
    pub times: u32,
    /// Its endings in order, each with the passes it belongs to; empty when every pass ends alike.
    pub endings: Vec<Ending>,
}

/// A first, second or later ending of a repeated passage.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Ending {
    /// The written bars it holds.
    pub bars: Range<usize>,
    /// The passes that play it, rising, from 1.
    pub passes: Vec<u32>,
}

/// A jump back that is taken once: from the sign or from the beginning.
///
/// After it no passage is repeated, and of its endings the last is played (common practice, no source).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Jump {
    /// The bar after which it is taken.
    pub after: usize,
    /// The bar it goes to.
    pub to: usize,
    /// Whether that bar bears the sign; else it is the beginning.
    pub from_sign: bool,
    /// Where the piece ends after it.
    pub until: Until,
}

/// Where a piece ends after a [`Jump`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Until {
    /// At its last bar.
    End,
    /// After this bar.
    Fine(usize),
    /// After bar `leave` it goes on at bar `coda`, to the end.
    Coda {
        /// The bar after which the first part is left.
        leave: usize,
        /// The first bar of the coda.
        coda: usize,
    },
}

impl Repeat {
    /// A passage that ends alike every time.
    #[must_use]
    pub fn new(bars: Range<usize>, times: u32) -> Self {
        Self { bars, times, endings: Vec::new() }
    }

    /// The written bars of one pass, from 1, in the order they are played.
    pub fn pass(&self, pass: u32) -> impl Iterator<Item = usize> + use<> {
        let body = self.endings.first().map_or(self.bars.end, |first| first.bars.start);
        let ending = self.endings.iter().find(|ending| ending.passes.contains(&pass));
        (self.bars.start..body).chain(ending.map_or(0..0, |ending| ending.bars.clone()))
    }

    /// That it lies inside a piece of `bars` bars, behind `reached`, and that its endings fill its end.
    pub(crate) fn check(&self, reached: usize, bars: usize) -> Result<(), Error> {
        let wrong = || Error::Repeat { first: self.bars.start, end: self.bars.end };
        if self.bars.is_empty() || self.bars.start < reached || self.bars.end > bars {
            return Err(wrong());
        }
        if !TIMES_THROUGH.holds(i64::from(self.times)) {
            return Err(Error::OutOfRange { given: i64::from(self.times), limit: TIMES_THROUGH });
        }
        let Some(first) = self.endings.first() else { return Ok(()) };
        let wrong = || Error::Endings { first: first.bars.start, end: self.bars.end, times: self.times };
        let mut at = first.bars.start;
        let mut passes = Vec::new();
        for ending in &self.endings {
            if ending.bars.start != at || ending.bars.is_empty() || ending.passes.is_empty() {
                return Err(wrong());
            }
            at = ending.bars.end;
            passes.extend(ending.passes.iter().copied());
        }
        passes.sort_unstable();
        if at != self.bars.end || first.bars.start < self.bars.start || !passes.into_iter().eq(1..=self.times)
        {
            return Err(wrong());
        }
        Ok(())
    }
}

impl Jump {
    /// That every bar it names is there and lies where the jump can use it.
    pub(crate) fn check(&self, bars: usize) -> Result<(), Error> {
        let until = match self.until {
            Until::End => true,
            Until::Fine(fine) => self.to <= fine && fine < self.after,
            Until::Coda { leave, coda } => {
                self.to <= leave && leave < coda && self.after < coda && coda < bars
            }
        };
        if self.after < bars && self.to <= self.after && until {
            Ok(())
        } else {
            Err(Error::Jump { after: self.after })
        }
    }
}

/// The written bars in the order they are played.
pub(crate) fn order(bars: usize, repeats: &[Repeat], jump: Option<Jump>) -> Vec<usize> {
    let Some(jump) = jump else { return once(0..bars, repeats, Taken::All) };
    let mut order = once(0..jump.after + 1, repeats, Taken::All);
    match jump.until {
        Until::End => order.extend(once(jump.to..bars, repeats, Taken::Last)),
        Until::Fine(fine) => order.extend(once(jump.to..fine + 1, repeats, Taken::Last)),
        Until::Coda { leave, coda } => {
            order.extend(once(jump.to..leave + 1, repeats, Taken::Last));
            order.extend(once(coda..bars, repeats, Taken::Last));
        }
    }
    order
}

/// Which passes of a repeated passage are played.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Taken {
    All,
    Last,
}

/// One way through `range`. A passage that lies only partly inside it is played as far as it does.
fn once(range: Range<usize>, repeats: &[Repeat], taken: Taken) -> Vec<usize> {
    let mut order = Vec::new();
    let mut at = range.start;
    for repeat in
        repeats.iter().filter(|repeat| repeat.bars.end > range.start && repeat.bars.start < range.end)
    {
        order.extend(at..repeat.bars.start.max(at));
        let first = if taken == Taken::Last { repeat.times } else { 1 };
        for pass in first..=repeat.times {
            let inside = |index: &usize| range.contains(index) && (pass > first || *index >= at);
            order.extend(repeat.pass(pass).filter(inside));
        }
        at = repeat.bars.end.max(at);
    }
    order.extend(at.min(range.end)..range.end);
    order
}
