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
    let count = sentence::count(rhythm, key);
    let expected = sentence::keys([key]);
    let Some(written) = sheet.word_of(cell) else {
        let (kind, while_) = match key.deed {
            Deed::Attack => return None,
            Deed::Hold => (Kind::HoldLeftOut, "while the note is held"),
            Deed::Rest => (Kind::RestLeftOut, "through the silence"),
        };
        let says = format!("{count} is not written; the key counts it {while_}, {expected}");
        return Some(Case { kind, bar: cell.bar, at: key.at, evidence: Vec::new(), explains: 1, says });
    };
    let shown = sentence::words([written]);
    let without_word = written.word.is_empty();
    let (kind, says) = if without_word && written.deed == key.deed {
        let what = match key.deed {
            Deed::Attack => return None,
            Deed::Hold => "held note",
            Deed::Rest => "silence",
        };
        let says =
            format!("{count} is written as {shown}, without its word; the key counts the {what}, {expected}");
        (Kind::WithoutWord, says)
    } else {
        if (!without_word && written.word != key.word) || cell.misplaced || key.accepted.hold(written.deed) {
            return None;
        }
        let says = format!(
            "{count} is written as {}, {shown}; in the key it is {}, {expected}",
            name(written.deed),
            name(key.deed)
        );
        (mixed_up(key.deed, written.deed)?, says)
    };
    Some(Case { kind, bar: cell.bar, at: key.at, evidence: vec![written.span.clone()], explains: 1, says })
}

fn mixed_up(key: Deed, written: Deed) -> Option<Kind> {
    match (key, written) {
        (Deed::Hold, Deed::Attack) => Some(Kind::HoldStruck),
        (Deed::Hold, Deed::Rest) => Some(Kind::HoldSilent),
        (Deed::Rest, Deed::Attack) => Some(Kind::RestStruck),
        (Deed::Rest, Deed::Hold) => Some(Kind::RestHeld),
        (Deed::Attack, Deed::Hold | Deed::Rest) => Some(Kind::AttackNotStruck),
        _ => None,
    }
}

const fn name(deed: Deed) -> &'static str {
    match deed {
        Deed::Attack => "struck",
        Deed::Hold => "held",
        Deed::Rest => "silent",
    }
}
