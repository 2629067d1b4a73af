//! What both forms of a bar come to.

use std::ops::Range;

use super::Diagnostic;
use crate::{Deed, Event, Form, Meter};

/// A bar as it was read, with the place of every event.
#[derive(Clone, Debug)]
pub(super) struct WrittenBar {
    pub(super) meter: Meter,
    pub(super) form: Form,
    pub(super) pickup: bool,
    pub(super) events: Vec<Spelled>,
}

/// An event and the bytes that wrote it.
#[derive(Clone, Debug)]
pub(super) struct Spelled {
    pub(super) event: Event,
    pub(super) span: Range<usize>,
}

/// What sounds when a bar begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sound {
    Silent,
    Sounding,
    /// The bar before could not be read.
    Unknown,
}

impl Sound {
    pub(super) fn after(deed: Deed) -> Self {
        if deed == Deed::Rest { Self::Silent } else { Self::Sounding }
    }
}

/// The error of a hold with silence, or nothing, before it.
pub(super) fn nothing_to_hold(span: Range<usize>) -> Diagnostic {
    let help = "a hold follows an attack or another hold: write the count without `_` to strike it, or in parentheses for silence";
    Diagnostic::error(span, "nothing sounds before this hold", help)
}
