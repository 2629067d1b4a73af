use engrave::{Ink, Item, Paint, Scene, System};
use kurbo::{Point, Rect};

/// Half the width of the pale column.
const HALF_COLUMN: f64 = 1.0;
/// Half the width of the mark over the staff.
const HALF_MARK: f64 = 0.75;
/// How high the mark is.
const MARK: f64 = 1.0;

/// Where the music is: a pale column under everything, and a mark over the staff. Nothing of it looks like
/// a bar line.
#[derive(Clone, Debug, PartialEq)]
pub struct Playhead {
    /// To be painted before everything else.
    pub under: Item,
    /// To be painted last.
    pub over: Item,
}

/// The playhead at `x` staff spaces in `system`, through its staff and its rows.
#[must_use]
pub fn playhead(system: &System, x: f64) -> Playhead {
    let column = Rect::new(x - HALF_COLUMN, system.mark + MARK, x + HALF_COLUMN, system.bottom);
    let corners = [
        Point::new(x - HALF_MARK, system.mark),
        Point::new(x + HALF_MARK, system.mark),
        Point::new(x, system.mark + MARK),
    ];
    Playhead {
        under: Item::block(column, Ink::Column),
        over: Item::polygon(&corners, Paint::Fill, Ink::Main),
    }
}

impl Playhead {
    /// Adds it to a scene that stands still, a picture of a moment. A window paints the two items itself,
    /// so that nothing else has to be laid out again.
    pub fn add_to(self, scene: &mut Scene) {
        scene.items.insert(0, self.under);
        scene.items.push(self.over);
    }
}
