//! `countline sheet`

use std::path::PathBuf;

use counting::System;
use paper::{Answers, Exercise, SheetOptions, Version, dealt, sheet, versions};

use super::{exercises, pages};
use crate::counting_file;
use crate::failure::Failure;
use crate::flags::paper::beside;
use crate::flags::{AnswersFlag, SheetFlags};

pub(crate) fn run(flags: &SheetFlags) -> Result<(), Failure> {
    let form = flags.pages.form().map_err(Failure::Call)?;
    let system = counting_file::chosen(&flags.counting)?;
    let loaded = exercises::load(&flags.files, &system, flags.parts)?;
    let title = exercises::title(flags.title.as_deref(), &loaded);
    let orders: Vec<(Option<Version>, Vec<usize>)> = if flags.versions == 1 && flags.each.is_none() {
        vec![(None, (0..loaded.len()).collect())]
    } else {
        let drawn = match flags.each {
            Some(each) => dealt(flags.versions, loaded.len(), each, flags.seed),
            None => versions(flags.versions, loaded.len(), flags.seed),
        };
        let drawn = drawn.map_err(super::call)?;
        drawn.into_iter().map(|(version, order)| (Some(version), order)).collect()
    };
    let usual = system == *System::numbers();
    let counted = if usual { String::new() } else { exercises::counted(&system) };
    for (version, order) in orders {
        let in_order: Vec<Exercise<'_>> = order.iter().map(|&index| loaded[index].exercise()).collect();
        for (answers, out) in documents(flags, version) {
            let options = SheetOptions {
                print: flags.pages.print.print(),
                answers,
                title: title.clone(),
                date: flags.date,
                version,
                counting: counted.clone(),
            };
            pages::write(&sheet(&in_order, &options).map_err(Failure::job)?, form, &out)?;
        }
    }
    Ok(())
}

/// Which documents are written of a version, and where.
fn documents(flags: &SheetFlags, version: Option<Version>) -> Vec<(Answers, PathBuf)> {
    let out = &flags.pages.out;
    let out = version.map_or_else(|| out.clone(), |version| beside(out, &format!("-{}", version.letter())));
    match flags.answers {
        AnswersFlag::Blank => vec![(Answers::Blank, out)],
        AnswersFlag::Key => vec![(Answers::Key, out)],
        AnswersFlag::Both => {
            let key = beside(&out, "-key");
            vec![(Answers::Blank, out), (Answers::Key, key)]
        }
    }
}
