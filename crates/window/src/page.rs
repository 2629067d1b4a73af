//! The page that is shown: an engraving with the players' rows, made anew only when something of it changed.

use engrave::{Engraving, Item, Layout, Scene, engrave};
use kurbo::Rect;
use live::PlayerState;
use picture::{Against, PictureOptions, Player, Row, Timeline};
use timebase::{Moment, Tempo};

use crate::choices::Lean;
use crate::running::Head;
use crate::sheet::Sheet;

/// From the top of a line of music down to the rows: notes, counts and what stands over and under them, in staff spaces.
const STAFF: f64 = 12.5;

/// What a page is made of. Two that are equal give the same page.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PageKey {
    /// Which sheet: counted up with every one that is read.
    pub(crate) sheet: u64,
    /// How wide it is, in staff spaces.
    pub(crate) width: f64,
    /// The tempo the moments of strokes are placed by.
    pub(crate) tempo: Tempo,
    /// The rows' heads; empty for none.
    pub(crate) heads: Vec<Head>,
    /// Whether the spread stands under them.
    pub(crate) spread: bool,
}

/// What the rows show. Two that are equal give the same rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct RowsKey {
    /// Which judgements: counted up with every one that is told.
    pub(crate) judgement: u64,
    pub(crate) lean: Lean,
    /// The section as a whole instead of a row for each.
    pub(crate) class_view: bool,
}

/// How high a system with these rows is about, in staff spaces: as high as everything a line of music needs to be seen whole.
pub(crate) fn system_height(heads: &[Head], spread: bool) -> f64 {
    let base = Layout::default();
    STAFF + picture::layout(base, &widest(heads), spread).room_below - base.room_below
}

/// Room for heads of the widest bias, so that nothing moves while the numbers change.
fn widest(heads: &[Head]) -> Vec<Row> {
    heads.iter().map(|head| Row { bias_ms: Some(-888.0), ..empty(head) }).collect()
}

/// A row in which nothing has been struck yet.
fn empty(head: &Head) -> Row {
    Row { label: head.label.clone(), state: head.state.clone(), ..Row::default() }
}

/// A page, ready to be painted.
#[derive(Debug)]
pub(crate) struct Page {
    key: PageKey,
    engraving: Engraving,
    timeline: Timeline,
    rows: Option<RowsKey>,
    scene: Scene,
    /// The box around every item of the scene.
    bounds: Vec<Rect>,
}

impl Page {
    /// A page without strokes, or why there is none.
    pub(crate) fn new(sheet: &Sheet, key: PageKey) -> Result<Self, String> {
        let (rhythm, counting) = sheet.rhythm().ok_or("the text is no rhythm yet")?;
        let base = Layout { width: key.width, head: false, ..Layout::default() };
        let layout = picture::layout(base, &widest(&key.heads), key.spread);
        let engraving = engrave(rhythm, counting, &layout).map_err(|error| error.to_string())?;
        let timeline = Timeline::new(&engraving, &rhythm.tempo_map(&rhythm.performance(), key.tempo));
        let scene = engraving.scene().clone();
        let bounds = scene.items.iter().map(Item::bounds).collect();
        Ok(Self { key, engraving, timeline, rows: None, scene, bounds })
    }

    pub(crate) fn key(&self) -> &PageKey {
        &self.key
    }

    /// Draws the players' rows, unless they are drawn already.
    pub(crate) fn show(&mut self, players: &[PlayerState], rows: RowsKey) -> Result<(), String> {
        if self.rows == Some(rows) {
            return Ok(());
        }
        let against = match rows.lean {
            Lean::OwnPulse => Against::OwnPulse,
            Lean::Click => Against::Click,
            Lean::Section => Against::Section,
        };
        let named: Vec<Player<'_>> = players
            .iter()
            .map(|player| Player { label: &player.label, judgement: &player.judgement })
            .collect();
        let drawn = if self.key.heads.is_empty() || named.is_empty() {
            self.key.heads.iter().map(empty).collect()
        } else if rows.class_view {
            vec![picture::section_row(&named, against)]
        } else {
            let rows = picture::rows(&named, against, &self.timeline);
            let states = players.iter().map(PlayerState::state);
            rows.into_iter().zip(states).map(|(row, state)| Row { state, ..row }).collect()
        };
        let spreads = if self.key.spread {
            let judgements: Vec<&judge::Judgement> =
                players.iter().map(|player| &*player.judgement).collect();
            picture::spreads(&judge::section(&judgements))
        } else {
            Vec::new()
        };
        let options = PictureOptions { against, ..PictureOptions::default() };
        self.scene =
            picture::picture(&self.engraving, &drawn, &spreads, &options).map_err(|e| e.to_string())?;
        self.bounds = self.scene.items.iter().map(Item::bounds).collect();
        self.rows = Some(rows);
        Ok(())
    }

    pub(crate) fn scene(&self) -> &Scene {
        &self.scene
    }

    /// The items that touch the part from `top` to `bottom`, in their order.
    pub(crate) fn items(&self, top: f64, bottom: f64) -> impl Iterator<Item = &Item> {
        let boxes = self.scene.items.iter().zip(&self.bounds);
        boxes.filter(move |(_, bounds)| bounds.y1 >= top && bounds.y0 <= bottom).map(|(item, _)| item)
    }

    /// The system, from 0, and the place in it where a moment stands; the count-in stands at the first note.
    pub(crate) fn place_of(&self, moment: Moment) -> Option<(usize, f64)> {
        self.timeline.nearest(moment)
    }

    pub(crate) fn engraving(&self) -> &Engraving {
        &self.engraving
    }
}
