//! Misunderstandings that show in single counts: struck, held and silent taken for one another, and counts left out.

use rhythm::{Deed, Rhythm};

use super::super::MisunderstandingKind as Kind;
use super::super::cells::{Cell, Sheet};
use super::{Case, sentence};

/// Looks at every count that nothing else explains.
pub(super) fn cases(sheet: &mut Sheet<'_>, rhythm: &Rhythm) -> Vec<Case> {
    let mut found = Vec::new();
    for range in sheet.bars() {
        // Where nothing is written, nothing is misunderstood.
        if sheet.cells[range.clone()].iter().all(|cell| cell.word.is_none()) {
            continue;
        }
        for index in range {
            let cell = sheet.cells[index];
            if let Some(case) = case(sheet, &cell, rhythm).filter(|_| !cell.explained) {
                found.push(case);
                sheet.cells[index].explained = true;
            }
        }
    }
    found
}

fn case(sheet: &Sheet<'_>, cell: &Cell, rhythm: &Rhythm) -> Option<Case> {
    let key = sheet.key_of(cell)?;
    let bar = sentence::bar(rhythm, cell.bar);
    let expected = sentence::keys([key]);
    let say = key.say.as_str();
    let Some(written) = sheet.word_of(cell).filter(|written| !written.word.is_empty()) else {
        let (kind, while_) = match key.deed {
            Deed::Attack => return None,
            Deed::Hold => (Kind::HoldLeftOut, "while the note is held"),
            Deed::Rest => (Kind::RestLeftOut, "through the silence"),
        };
        let says = format!("the `{say}` of {bar} is not written; the key counts it {while_}, {expected}");
        let evidence = sheet.word_of(cell).map(|written| written.span.clone()).into_iter().collect();
        return Some(Case { kind, bar: cell.bar, at: key.at, evidence, explains: 1, says });
    };
    if written.word != key.word || cell.misplaced || key.accepted.hold(written.deed) {
        return None;
    }
    let kind = match (key.deed, written.deed) {
        (Deed::Hold, Deed::Attack) => Kind::HoldStruck,
        (Deed::Hold, Deed::Rest) => Kind::HoldSilent,
        (Deed::Rest, Deed::Attack) => Kind::RestStruck,
        (Deed::Rest, Deed::Hold) => Kind::RestHeld,
        (Deed::Attack, Deed::Hold | Deed::Rest) => Kind::AttackNotStruck,
        _ => return None,
    };
    let name = |deed| match deed {
        Deed::Attack => "struck",
        Deed::Hold => "held",
        Deed::Rest => "silent",
    };
    let says = format!(
        "the `{say}` of {bar} is written as {}, {}; in the key it is {}, {expected}",
        name(written.deed),
        sentence::words([written]),
        name(key.deed)
    );
    Some(Case { kind, bar: cell.bar, at: key.at, evidence: vec![written.span.clone()], explains: 1, says })
}
