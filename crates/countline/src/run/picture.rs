//! `countline picture`: a rhythm engraved, with its counting underneath.

use counting::{CountLine, Settings, System};
use engrave::svg::{self, SvgOptions};
use engrave::{CountStyle, CountsShown, Layout, PrintSize, RestWords, Staff, StickingAt, engrave_staves};
use paper::staves_in_words;
use rhythm::{Part, Rhythm};
use take::write_beside;

use super::exercises;
use crate::failure::Failure;
use crate::flags::{PictureCountFlags, PictureFlags};
use crate::{counting_file, output, rhythm_file};

/// Pixels a staff space, and in large print.
const SCALE: [f64; 2] = [10.0, 14.0];

pub(crate) fn run(flags: &PictureFlags) -> Result<(), Failure> {
    let ending = flags.out.extension().and_then(|ending| ending.to_str());
    if !ending.is_some_and(|ending| ending.eq_ignore_ascii_case("svg")) {
        let out = flags.out.display();
        return Err(Failure::Call(format!("{out} does not end in .svg: pictures are written as SVG")));
    }
    let systems = systems(&flags.counts)?;
    let piece = rhythm_file::read_piece(&flags.file)?;
    let parts: Vec<Part> = match &flags.part {
        // By itself it has its line for itself.
        Some(name) => {
            vec![Part { shares_line: false, ..rhythm_file::part(&piece, &flags.file, name)?.clone() }]
        }
        None => piece.into_parts().collect(),
    };
    let settings = Settings {
        say: flags.counts.say.into(),
        feet: flags.counts.feet,
        holds: flags.counts.holds.map(Into::into),
        rests: None,
    };
    let count = |rhythm: &Rhythm| -> Vec<CountLine> {
        systems.iter().map(|system| counting::count_in(rhythm, system, &settings)).collect()
    };
    let together = exercises::together(&parts, flags.parts)?;
    let counted: Vec<Vec<CountLine>> = match &together {
        None => parts.iter().map(|part| count(&part.rhythm)).collect(),
        // One for all under the last.
        Some(rhythm) => (1..parts.len()).map(|_| Vec::new()).chain([count(rhythm)]).collect(),
    };
    let staves: Vec<Staff<'_>> = parts
        .iter()
        .zip(&counted)
        .map(|(part, countings)| Staff {
            name: part.name.as_deref(),
            rhythm: &part.rhythm,
            countings: countings.iter().collect(),
            shares_line: part.shares_line,
        })
        .collect();
    let counts_are_shown = !(flags.counts.no_counts || flags.counts.ruled);
    let engraving = engrave_staves(&staves, &layout(flags)).map_err(super::call)?;
    let options = SvgOptions {
        scale: SCALE[usize::from(flags.large)],
        title: parts[0].rhythm.title().unwrap_or("A rhythm").to_owned(),
        description: staves_in_words(&staves, counts_are_shown),
        ..SvgOptions::default()
    };
    write_beside(&flags.out, svg::write(engraving.scene(), &options).as_bytes()).map_err(Failure::job)?;
    output::print(&format!("wrote {}\n", flags.out.display()))
}

/// The counting systems from the top. A variant goes for every system that has it; one must.
fn systems(flags: &PictureCountFlags) -> Result<Vec<System>, Failure> {
    let mut systems: Vec<System> =
        flags.counting.iter().map(|name| counting_file::system(name)).collect::<Result<_, _>>()?;
    for variant in &flags.variant {
        let mut refused = None;
        let mut known = false;
        for system in &mut systems {
            match system.clone().with_variant(variant) {
                Ok(changed) => (*system, known) = (changed, true),
                Err(error) => refused = Some(error),
            }
        }
        if let Some(error) = refused.filter(|_| !known) {
            return Err(super::call(error));
        }
    }
    Ok(systems)
}

fn layout(flags: &PictureFlags) -> Layout {
    let counts = &flags.counts;
    Layout {
        width: flags.width,
        written_out: flags.written_out,
        counts: !counts.no_counts,
        count_style: CountStyle {
            shown: if counts.ruled { CountsShown::Ruled } else { CountsShown::Written },
            rests: if counts.rests_lighter { RestWords::Lighter } else { RestWords::Parentheses },
            hands: counts.hands,
            legend: counts.legend,
        },
        sticking: if flags.sticking_over { StickingAt::Over } else { StickingAt::Under },
        print: if flags.large { PrintSize::Large } else { PrintSize::Usual },
        head: !flags.no_head,
        bar_numbers: !flags.no_numbers,
        ..Layout::default()
    }
}
