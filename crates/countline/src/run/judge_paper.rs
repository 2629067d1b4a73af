//! `countline judge --pdf`: the take under its rhythm, and what is told of each player, as pages.

use std::path::Path;

use engrave::Layout;
use judge::Judgement;
use paper::{Error, Judged, Remark, Told, judged, judged_layout};
use rhythm::Rhythm;
use sequencer::Sequence;

use super::judge::drawn;
use super::{pages, report};
use crate::failure::Failure;
use crate::flags::JudgePaperFlags;
use crate::flags::paper::PagesForm;

/// What the pages show.
pub(super) struct Page<'a> {
    pub(super) rhythm: &'a Rhythm,
    pub(super) sequence: &'a Sequence,
    pub(super) judged: &'a [(&'a str, &'a Judgement)],
    /// Tempo and tolerance.
    pub(super) about: &'a str,
    /// How many findings are told of each player.
    pub(super) findings: usize,
}

pub(super) fn write(out: &Path, flags: &JudgePaperFlags, page: &Page<'_>) -> Result<(), Failure> {
    let players: Vec<Told> = page.judged.iter().map(|player| told(player, page.findings)).collect();
    let mut print = flags.print.print();
    loop {
        let layout = judged_layout(print);
        let mut drawn = self::drawn(page.rhythm, page.sequence, page.judged, layout)?;
        // Where a bar is wider than the page all systems are as wide as that, and all of it is printed smaller.
        let wide = drawn.scene.width;
        if wide > layout.width + 1e-9 {
            drawn = self::drawn(page.rhythm, page.sequence, page.judged, Layout { width: wide, ..layout })?;
        }
        let take = Judged {
            title: page.rhythm.title().unwrap_or_default(),
            about: page.about,
            date: flags.date,
            engraving: &drawn.engraving,
            scene: &drawn.scene,
            rows: &drawn.rows,
            players: &players,
        };
        // Many players under one system may be higher than a page: then all is printed smaller.
        match judged(&take, print) {
            Err(too_high @ Error::TooHigh { .. }) => {
                print = print.smaller().ok_or_else(|| Failure::job(too_high))?;
            }
            document => return pages::write(&document.map_err(Failure::job)?, PagesForm::Pdf, out),
        }
    }
}

fn told(&(label, judgement): &(&str, &Judgement), most: usize) -> Told {
    let findings = judge::together(judgement.findings());
    let places = findings.iter().chain(judgement.doubtful()).map(|finding| finding.place);
    let (sentences, _) = report::told(judgement, most);
    let remarks = sentences.into_iter().zip(places).map(|(says, place)| Remark { says, place });
    Told { label: label.to_owned(), sums: report::sums(judgement), findings: remarks.collect() }
}
