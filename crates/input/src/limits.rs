//! Every limit of this crate, once, with the word that names it in a message.

use timebase::Seconds;
use timebase::limits::Limit;

/// MIDI channels as the bytes number them; people say 1 to 16.
pub const CHANNEL: Limit = Limit { what: "MIDI channel, counted from 0,", least: 0, most: 15 };

/// Key numbers.
pub const NOTE: Limit = Limit { what: "MIDI note", least: 0, most: 127 };

/// Controllers; the numbers above are the channel mode messages of MIDI 1.0.
pub const CONTROLLER: Limit = Limit { what: "MIDI controller", least: 0, most: 119 };

/// Milliseconds of a retrigger mask. Pad modules offer 0 to 64 ms (one manual); beyond 100 ms a mask would swallow
/// sixteenths at a quick march.
pub const RETRIGGER_MS: Limit = Limit { what: "retrigger mask in ms", least: 0, most: 100 };

/// Characters of a player's code.
pub const CODE_CHARS: Limit = Limit { what: "length of a player's code in characters", least: 1, most: 40 };

/// Players of a list.
pub const PLAYERS: Limit = Limit { what: "number of players", least: 0, most: 200 };

/// Strokes a second from one device, all its pads together, before it counts as gone wild. A MIDI 1.0 cable carries 31,250 bits a second, ten to
/// the byte: with running status, two bytes a message, 1,562 messages; nobody's hands send as many.
pub const MESSAGES_A_SECOND: i64 = 1_600;

/// Strokes a second on one pad before it counts as gone wild: hands reach some twenty, the sticks of a buzz roll bounce at some
/// fifty (common practice, no source).
pub const STROKES_OF_A_PAD: i64 = 100;

/// So many of them may come at once, beyond what the rate allows: what hands strike in a second in which the system stood still.
pub const AT_ONCE_OF_A_PAD: i64 = 32;

/// How long a device is still wild after the last message that was held back.
pub const FLOOD_CALM: Seconds = Seconds::from_millis(1_000);

/// How soon after it was struck the same pad or pedal gives no order: one blow asks once, however the pad bounces, and nobody means two orders
/// so close (common practice, no source).
pub const ORDER_SPAN: Seconds = Seconds::from_millis(200);

/// How often within a second the pad of an order may be struck, its bouncing left out: whatever strikes it more often is no person who gives
/// orders (common practice, no source).
pub const ORDERS_A_SECOND: usize = 5;

/// How long a pad that was struck more often must be quiet until it gives orders again.
pub const ORDER_CALM: Seconds = Seconds::from_millis(1_000);

/// Strokes on the pad of an order within [`CROSSTALK_WAIT`], the first and the pad's bouncing included, beyond which no hand gave it: more
/// than 200 a second (common practice, no source).
pub const BLOWS_OF_AN_ORDER: u32 = 6;

/// Controllers from this value on are down (MIDI 1.0, the switches 64 to 69; from memory).
pub const PEDAL_DOWN: u8 = 64;

/// How long after a strong stroke a weak one on another pad of the module counts as cross-talk. A blow travels a rack or a
/// table in a few milliseconds, and a module scans its pads every millisecond or two (common practice, no source).
pub const CROSSTALK_SPAN: Seconds = Seconds::from_millis(8);

/// How long after a soft stroke, or an order by one, was heard of the hard one that shows it to be cross-talk may still be heard of: its span, and a block of
/// 1024 frames, in which a driver may hand the two over apart. Every order waits so long.
pub const CROSSTALK_WAIT: Seconds = Seconds::from_millis(30);

/// How weak beside the strong one: a quarter of its velocity at most (common practice, no source).
pub const CROSSTALK_SHARE: u8 = 4;
