//! The usual misunderstandings, found.
//!
//! Each is a guess at what somebody who thinks so would have written for this bar or beat. Where the guess is what
//! stands there, and the key is something else, the misunderstanding has a name; the words are then paired with the
//! counts as that person meant them.

mod bar;
mod beat;
mod deed;
mod line;
pub(super) mod sentence;
mod variant;

use std::ops::Range;

use rhythm::Rhythm;
use timebase::Span;

use super::cells::Sheet;
use super::{Misunderstanding, MisunderstandingKind};
use crate::CountLine;

/// One place at which a misunderstanding shows.
#[derive(Clone, Debug)]
struct Case {
    kind: MisunderstandingKind,
    bar: usize,
    at: Span,
    evidence: Vec<Range<usize>>,
    explains: usize,
    says: String,
}

/// Names what is to be named in `sheet`, whose cells it pairs anew where that explains them.
pub(super) fn name(sheet: &mut Sheet<'_>, line: &CountLine, rhythm: &Rhythm) -> Vec<Misunderstanding> {
    let own = line::words_right(sheet.keys, sheet.tokens);
    if let Some(case) = variant::another_variant(sheet, own, line, rhythm) {
        return merged(vec![case], rhythm);
    }
    if let Some(case) = line::another_system(sheet, own, line, rhythm) {
        return merged(vec![case], rhythm);
    }
    let mut cases = bar::cases(sheet, rhythm);
    cases.extend(beat::cases(sheet, line, rhythm));
    cases.extend(line::every_division(sheet, line, rhythm));
    cases.extend(deed::cases(sheet, rhythm));
    cases.extend(line::bar_lines(sheet, rhythm));
    merged(cases, rhythm)
}

/// One misunderstanding a kind; what explains the most counts first.
fn merged(cases: Vec<Case>, rhythm: &Rhythm) -> Vec<Misunderstanding> {
    let mut found: Vec<Misunderstanding> = Vec::new();
    for case in cases {
        match found.iter_mut().find(|other| other.kind == case.kind) {
            Some(first) => {
                first.explains += case.explains;
                first.evidence.extend(case.evidence);
                first.bars.push(case.bar);
                if (case.bar, case.at) < (first.bar, first.at) {
                    (first.bar, first.at, first.says) = (case.bar, case.at, case.says);
                }
            }
            None => found.push(Misunderstanding {
                kind: case.kind,
                bar: case.bar,
                at: case.at,
                bars: vec![case.bar],
                evidence: case.evidence,
                explains: case.explains,
                says: case.says,
            }),
        }
    }
    for found in &mut found {
        found.bars.sort_unstable();
        found.bars.dedup();
        found.evidence.sort_by_key(|span| span.start);
        found.says += &sentence::also_in(rhythm, found.bar, &found.bars);
    }
    found.sort_by_key(|found| (usize::MAX - found.explains, found.kind, found.bar, found.at));
    found
}
