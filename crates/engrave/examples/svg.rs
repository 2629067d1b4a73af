//! Writes a rhythm text as SVG: `cargo run -p engrave --example svg -- FILE [WIDTH] [WORD ...] > FILE.svg`, the words
//! being `out` (repeats written out), `bare` (no counts), `hands`, `legend`, `large`, `ruled`, `two` (a second count
//! line), `feet` and `together` (one count line for all parts).

use counting::{CountLine, Settings, System, count_in};
use engrave::{CountStyle, CountsShown, Layout, PrintSize, Staff, engrave_staves, svg};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().ok_or("name a .rhythm file")?;
    let width = arguments.next().map_or(Ok(76.0), |width| width.parse())?;
    let words: Vec<String> = arguments.collect();
    let is = |word: &str| words.iter().any(|other| other == word);
    let reading = rhythm::text::read_piece(&std::fs::read_to_string(file)?);
    for diagnostic in &reading.diagnostics {
        std::io::Write::write_all(&mut std::io::stderr(), format!("{diagnostic:?}\n").as_bytes())?;
    }
    let piece = reading.piece.ok_or("the text is no rhythm")?;
    let layout = Layout {
        width,
        written_out: is("out"),
        counts: !is("bare"),
        count_style: CountStyle {
            shown: if is("ruled") { CountsShown::Ruled } else { CountsShown::Written },
            hands: is("hands"),
            legend: is("legend"),
            ..CountStyle::default()
        },
        print: if is("large") { PrintSize::Large } else { PrintSize::Usual },
        ..Layout::default()
    };
    let settings = Settings { feet: is("feet"), ..Settings::default() };
    let mut systems = vec![System::numbers().clone()];
    if is("two") {
        systems.push(System::named("takadimi")?);
    }
    let lines: Vec<Vec<CountLine>> = piece
        .parts()
        .iter()
        .map(|part| systems.iter().map(|system| count_in(&part.rhythm, system, &settings)).collect())
        .collect();
    let rhythms: Vec<&rhythm::Rhythm> = piece.parts().iter().map(|part| &part.rhythm).collect();
    let all = is("together").then(|| rhythm::together(&rhythms)).transpose()?;
    let lines = match all {
        None => lines,
        Some(all) => {
            let last = vec![count_in(&all, &systems[0], &settings)];
            (1..rhythms.len()).map(|_| Vec::new()).chain([last]).collect()
        }
    };
    let staves = piece.parts().iter().zip(&lines).map(|(part, lines)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: lines.iter().collect(),
        shares_line: part.shares_line,
    });
    let engraving = engrave_staves(&staves.collect::<Vec<_>>(), &layout)?;
    let options = svg::SvgOptions {
        title: piece.parts()[0].rhythm.title().unwrap_or_default().to_owned(),
        description: engraving.description(),
        ..svg::SvgOptions::default()
    };
    let svg = svg::write(engraving.scene(), &options);
    std::io::Write::write_all(&mut std::io::stdout(), svg.as_bytes())?;
    Ok(())
}
