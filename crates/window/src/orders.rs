//! What can be asked of the window, and by which key.

use eframe::egui::{Context, Event, Key, Modifiers};

/// Something the window is asked to do, by a key or a button.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Order {
    /// Begin the drill.
    Start,
    /// End it; or close what lies over the page.
    Stop,
    /// Choose a file.
    Open,
    /// Read the file again.
    Reread,
    /// A beat a minute more or less.
    Tempo(i32),
    /// A bar of count-in more or less.
    CountIn(i32),
    /// A step louder or softer.
    Click(i32),
    /// A step louder or softer.
    Count(i32),
    /// A step louder or softer.
    Clap(i32),
    /// A step stricter or laxer.
    Tolerance(i32),
    /// The next of what pins can lean against.
    LeanNext,
    /// Show the players' rows, or the section as a whole.
    ClassView,
    /// Keep takes, or not.
    KeepTakes,
    /// Colours, or ink alone.
    Colours,
    /// Everything larger, or as usual.
    LargePrint,
    /// The notes a step larger or smaller; 0 is as usual.
    Size(i32),
    /// The page up or down, in lines of the page.
    Scroll(i32),
    /// To the beginning (false) or the end (true).
    ScrollTo(bool),
    /// The next one's turn, or the next rhythm of the folder.
    Next,
    /// The same once more.
    Again,
    /// Call the next one without this one's turn.
    PassOver,
    /// Nobody takes turns any more.
    NoTurns,
    /// How many findings are told.
    Told,
    /// What sounds, or not.
    Sounds,
    /// Who plays on what, or not.
    Players,
    /// Which pads and pedals ask for something, or not.
    Controls,
    /// Who takes turns, or not.
    Turns,
    /// How late sound and strokes are, or not.
    Latency,
    /// All findings, or not.
    Findings,
    /// Devices, or not.
    Devices,
    /// The list of keys, or not.
    Keys,
    /// The whole screen, or not.
    FullScreen,
    /// Close the window; a drill that runs is stopped and its take completed.
    Close,
}

/// One key and what it asks for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KeyRow {
    pub(crate) key: Key,
    pub(crate) modifiers: Modifiers,
    pub(crate) order: Order,
    /// As it stands in the list of keys; empty where another row speaks for it.
    pub(crate) keys: &'static str,
    /// What it does.
    pub(crate) does: &'static str,
}

const fn row(key: Key, order: Order, keys: &'static str, does: &'static str) -> KeyRow {
    KeyRow { key, modifiers: Modifiers::NONE, order, keys, does }
}

const fn with(
    modifiers: Modifiers,
    key: Key,
    order: Order,
    keys: &'static str,
    does: &'static str,
) -> KeyRow {
    KeyRow { key, modifiers, order, keys, does }
}

/// Every key, in the order of the list; those with more modifiers stand before the same key with fewer.
pub(crate) const KEYS: [KeyRow; 51] = [
    row(Key::Enter, Order::Start, "Enter", "start"),
    row(Key::Escape, Order::Stop, "Esc", "stop; close what lies over the page"),
    row(Key::A, Order::Again, "A", "the same again"),
    with(Modifiers::SHIFT, Key::G, Order::PassOver, "", ""),
    row(Key::G, Order::Next, "G, Shift G", "next turn or rhythm; pass a turn over"),
    row(Key::O, Order::Open, "O", "open a rhythm"),
    row(Key::R, Order::Reread, "R", "read the file again"),
    with(Modifiers::COMMAND, Key::Plus, Order::Size(1), "Ctrl + −", "notes larger, smaller"),
    with(Modifiers::COMMAND, Key::Equals, Order::Size(1), "", ""),
    with(Modifiers::COMMAND, Key::Minus, Order::Size(-1), "", ""),
    with(Modifiers::COMMAND, Key::Num0, Order::Size(0), "Ctrl 0", "notes in their usual size"),
    row(Key::Plus, Order::Tempo(1), "+ −", "a beat a minute faster, slower"),
    row(Key::Equals, Order::Tempo(1), "", ""),
    row(Key::Minus, Order::Tempo(-1), "", ""),
    with(Modifiers::SHIFT, Key::I, Order::CountIn(-1), "", ""),
    row(Key::I, Order::CountIn(1), "I, Shift I", "a bar of count-in more, less"),
    with(Modifiers::SHIFT, Key::K, Order::Click(-1), "", ""),
    row(Key::K, Order::Click(1), "K, Shift K", "click louder, softer"),
    with(Modifiers::SHIFT, Key::N, Order::Count(-1), "", ""),
    row(Key::N, Order::Count(1), "N, Shift N", "counting louder, softer"),
    with(Modifiers::SHIFT, Key::H, Order::Clap(-1), "", ""),
    row(Key::H, Order::Clap(1), "H, Shift H", "hand claps louder, softer"),
    with(Modifiers::SHIFT, Key::J, Order::Tolerance(-1), "", ""),
    row(Key::J, Order::Tolerance(1), "J, Shift J", "tolerance wider, narrower"),
    row(Key::L, Order::LeanNext, "L", "pins lean against: own pulse, click, section"),
    row(Key::V, Order::ClassView, "V", "class view: the section as a whole, no rows"),
    row(Key::T, Order::KeepTakes, "T", "keep takes, or not"),
    row(Key::C, Order::Colours, "C", "colours, or ink alone"),
    row(Key::P, Order::LargePrint, "P", "large print"),
    row(Key::ArrowUp, Order::Scroll(-1), "Up, Down", "scroll"),
    row(Key::ArrowDown, Order::Scroll(1), "", ""),
    row(Key::ArrowLeft, Order::Scroll(-1), "", ""),
    row(Key::ArrowRight, Order::Scroll(1), "", ""),
    row(Key::PageUp, Order::Scroll(-5), "Page Up, Page Down", "scroll further"),
    row(Key::PageDown, Order::Scroll(5), "", ""),
    row(Key::Home, Order::ScrollTo(false), "Home, End", "to the beginning, to the end"),
    row(Key::End, Order::ScrollTo(true), "", ""),
    row(Key::S, Order::Sounds, "S", "what sounds, how loud and where"),
    row(Key::Y, Order::Players, "Y", "players, and what they play on"),
    row(Key::B, Order::Controls, "B", "pads and pedals that start, stop, go on"),
    row(Key::U, Order::Turns, "U", "turns of many pupils at few pads"),
    row(Key::M, Order::Latency, "M", "latency: measure, show"),
    row(Key::F, Order::Findings, "F", "all findings, and the teacher's word"),
    row(Key::E, Order::Told, "E", "one, three or all findings told"),
    row(Key::D, Order::Devices, "D", "sound and MIDI devices"),
    row(Key::F1, Order::Keys, "F1", "this list"),
    row(Key::F11, Order::FullScreen, "F11", "the whole screen"),
    with(Modifiers::COMMAND, Key::Q, Order::Close, "Ctrl Q", "close the window"),
    row(Key::F5, Order::Reread, "", ""),
    with(Modifiers::COMMAND, Key::O, Order::Open, "", ""),
    row(Key::Questionmark, Order::Keys, "", ""),
];

/// Takes the orders out of what was typed, so that no widget sees them too.
///
/// While something is written in a text field, every key is the field's. While another widget has the keyboard, Enter,
/// the arrows and Esc are its own.
pub(crate) fn typed(ctx: &Context) -> Vec<Order> {
    if ctx.text_edit_focused() {
        return Vec::new();
    }
    let focused = ctx.memory(|memory| memory.focused().is_some());
    let of_widget = |key: Key| {
        use Key::{ArrowDown, ArrowLeft, ArrowRight, ArrowUp, Enter, Escape};
        focused && matches!(key, Enter | Escape | ArrowUp | ArrowDown | ArrowLeft | ArrowRight)
    };
    let mut orders = Vec::new();
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key { key, pressed: true, modifiers, repeat, .. } = event else { return true };
            if of_widget(*key) {
                return true;
            }
            let found = KEYS.iter().find(|row| row.key == *key && asked(row, *modifiers));
            let Some(row) = found else { return true };
            // A switch that is held down does not flutter.
            if !repeat || repeats(row.order) {
                orders.push(row.order);
            }
            false
        });
    });
    orders
}

/// Whether the modifiers are those of the row; Shift is free where no row of the key names it, for `+` needs it on
/// some keyboards.
fn asked(row: &KeyRow, modifiers: Modifiers) -> bool {
    let shift_matters = KEYS.iter().any(|other| other.key == row.key && other.modifiers.shift);
    row.modifiers.command == modifiers.command
        && !modifiers.alt
        && (!shift_matters || row.modifiers.shift == modifiers.shift)
}

fn repeats(order: Order) -> bool {
    matches!(
        order,
        Order::Tempo(_)
            | Order::Scroll(_)
            | Order::Click(_)
            | Order::Count(_)
            | Order::Clap(_)
            | Order::Tolerance(_)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_rows_share_a_key_and_space_is_free_for_striking() {
        for (index, row) in KEYS.iter().enumerate() {
            assert_ne!(row.key, Key::Space);
            let twice =
                KEYS[..index].iter().find(|other| other.key == row.key && other.modifiers == row.modifiers);
            assert!(twice.is_none(), "{row:?} and {twice:?}");
            assert_eq!(row.keys.is_empty(), row.does.is_empty());
        }
    }

    #[test]
    fn modifiers_tell_orders_apart() {
        let check = |key, modifiers, expected: Option<Order>| {
            let found = KEYS.iter().find(|row| row.key == key && asked(row, modifiers));
            assert_eq!(found.map(|row| row.order), expected, "{key:?} {modifiers:?}");
        };
        check(Key::Plus, Modifiers::SHIFT, Some(Order::Tempo(1)));
        check(Key::Plus, Modifiers::COMMAND, Some(Order::Size(1)));
        check(Key::K, Modifiers::NONE, Some(Order::Click(1)));
        check(Key::K, Modifiers::SHIFT, Some(Order::Click(-1)));
        check(Key::K, Modifiers::COMMAND, None);
        check(Key::O, Modifiers::ALT, None);
        check(Key::V, Modifiers::SHIFT, Some(Order::ClassView));
    }
}
