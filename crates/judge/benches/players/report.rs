//! The tables.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use judge::FindingKind;

use super::reliability;
use super::score::{CONSEQUENCES, Labels, Table};

/// The targets at 20 ms, and that of the alignment at 45 ms.
const F_AT_20: f64 = 0.99;
const F_AT_45: f64 = 0.96;
const PRECISION: f64 = 0.95;
const RECALL: f64 = 0.90;
const FALSE_PER_CLEAN: f64 = 0.05;

/// One table, and what it mixes up most.
pub(crate) fn table(spread_ms: f64, table: &Table) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "\nspread {spread_ms} ms");
    let _ = writeln!(
        text,
        "  {:22} takes  recall  elsewhere  precision  F all  match  missed  extra  false/take",
        "planted"
    );
    for (kind, row) in &table.rows {
        let takes = row.takes.max(1) as f64;
        let (recall, elsewhere, precision) = match kind {
            None => ("    -".to_owned(), "    -".to_owned(), "    -".to_owned()),
            Some(kind) => (
                share(table.recall(*kind)),
                share(Some(row.elsewhere as f64 / takes)),
                share(table.precision(*kind)),
            ),
        };
        let _ = writeln!(
            text,
            "  {:22} {:5}  {recall:>6}  {elsewhere:>9}  {precision:>9}  {}  {:10.3}",
            kind.map_or("clean", FindingKind::name),
            row.takes,
            f_columns(&row.labels),
            row.false_findings as f64 / takes,
        );
    }
    let _ = writeln!(text, "  {:22} {:35}{}", "all", "", f_columns(&table.labels()));
    text.push_str(&reliability::bins(&table.sure));
    let mut confused: Vec<_> = table.confused.iter().collect();
    confused.sort_by_key(|(_, many)| std::cmp::Reverse(**many));
    if !confused.is_empty() {
        let _ = writeln!(text, "  told where it should not have been, in so many takes:");
    }
    for ((planted, told), many) in confused.iter().take(30) {
        let planted = planted.map_or("clean", FindingKind::name);
        let _ = writeln!(text, "    {many:4} × {} in {planted}", told.name());
    }
    text
}

fn share(value: Option<f64>) -> String {
    value.map_or("    -".to_owned(), |value| format!("{value:.3}"))
}

fn f_columns(labels: &Labels) -> String {
    let of =
        |kind| if labels.true_ones[kind] + labels.given[kind] == 0 { None } else { Some(labels.f_of(kind)) };
    let all = if labels.true_ones.iter().sum::<usize>() == 0 { None } else { Some(labels.f()) };
    format!("{:>5}  {:>5}  {:>6}  {:>5}", share(all), share(of(0)), share(of(1)), share(of(2)))
}

/// The targets, and what was reached.
pub(crate) fn summary(tables: &[(f64, Table)]) -> String {
    let mut text = "\nsummary\n".to_owned();
    for (spread_ms, table) in tables {
        let target = if *spread_ms <= 20.0 { Some(F_AT_20) } else { (*spread_ms == 45.0).then_some(F_AT_45) };
        let clean = table.rows.get(&None).map_or(1.0, |row| row.labels.f());
        let _ = writeln!(
            text,
            "  {spread_ms} ms: F {:.4} over all takes, {clean:.4} over clean ones{}; {:.3} false findings a clean take",
            table.labels().f(),
            target.map_or(String::new(), |target| format!(" (wanted {target})")),
            table.false_per_clean(),
        );
        if *spread_ms == 20.0 {
            let _ = writeln!(text, "    false findings a clean take: wanted below {FALSE_PER_CLEAN}");
            let kinds = table.rows.keys().flatten();
            let short = |kind: &&FindingKind| {
                table.recall(**kind).is_none_or(|recall| recall < RECALL)
                    || table.precision(**kind).is_none_or(|precision| precision < PRECISION)
            };
            let short: Vec<&str> = kinds.clone().filter(short).map(|kind| kind.name()).collect();
            let all = kinds.count();
            let _ = writeln!(
                text,
                "    {} of {all} kinds reach recall {RECALL} and precision {PRECISION}; short of it: {}",
                all - short.len(),
                if short.is_empty() { "none".to_owned() } else { short.join(", ") },
            );
        }
    }
    text
}

/// All that was told where it should not have been: a row for each kind that was told, and in how many takes of what.
pub(crate) fn confusions(table: &Table) -> String {
    let mut text = "  told × planted, in so many takes where it should not have been:\n".to_owned();
    let mut rows: BTreeMap<FindingKind, Vec<(usize, &str)>> = BTreeMap::new();
    for ((planted, told), many) in &table.confused {
        rows.entry(*told).or_default().push((*many, planted.map_or("clean", FindingKind::name)));
    }
    for (told, mut planted) in rows {
        planted.sort_by_key(|(many, _)| std::cmp::Reverse(*many));
        let all: usize = planted.iter().map(|(many, _)| many).sum();
        let each: Vec<String> = planted.iter().map(|(many, planted)| format!("{many} {planted}")).collect();
        let _ = writeln!(text, "    {:22} {all:4}: {}", told.name(), each.join(", "));
    }
    text
}

/// What is counted as true beside what was planted.
pub(crate) fn consequences() -> String {
    let mut text = "\nnot counted as false, because it is true of the take:\n".to_owned();
    for (planted, told, why) in CONSEQUENCES {
        let _ = writeln!(text, "  {} in a take of {}: {why}", told.name(), planted.name());
    }
    text.push_str("  unsteady where the strokes scatter by 28 ms or more; early-attack (early-entry, cut-short) and late-attack where chance put that stroke 3.5 spreads and 50 ms off\n");
    text
}
