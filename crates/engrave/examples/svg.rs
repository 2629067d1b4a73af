//! Writes a rhythm text as SVG: `cargo run -p engrave --example svg -- FILE [WIDTH] [out] > FILE.svg`.

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().ok_or("name a .rhythm file")?;
    let width = arguments.next().map_or(Ok(76.0), |width| width.parse())?;
    let written_out = arguments.next().is_some();
    let reading = rhythm::text::read(&std::fs::read_to_string(file)?);
    for diagnostic in &reading.diagnostics {
        std::io::Write::write_all(&mut std::io::stderr(), format!("{diagnostic:?}\n").as_bytes())?;
    }
    let rhythm = reading.rhythm.ok_or("the text is no rhythm")?;
    let layout = engrave::Layout { width, written_out, ..engrave::Layout::default() };
    let engraving = engrave::engrave(&rhythm, &counting::count(&rhythm), &layout)?;
    let options = engrave::svg::SvgOptions {
        title: rhythm.title().unwrap_or_default().to_owned(),
        description: engraving.description(),
        ..engrave::svg::SvgOptions::default()
    };
    let svg = engrave::svg::write(engraving.scene(), &options);
    std::io::Write::write_all(&mut std::io::stdout(), svg.as_bytes())?;
    Ok(())
}
