//! What was read, for rhythm text.

use rhythm::limits::NAME_CHARS;
use rhythm::{Bar, Deed, Event, Form, Part, Piece, Rhythm};

use super::Import;
use super::unkept::Losses;
use crate::Error;

impl Import {
    /// The same as rhythm text can tell it: a bar that has no words there ([`rhythm::text::can_write`]) is silent, and that
    /// is told among what was not kept.
    ///
    /// # Errors
    /// If a bar begins where no word stands, so that not even silence can be written.
    pub fn for_text(self) -> Result<Self, Error> {
        let tells = |part: &Part| part.rhythm.bars().iter().all(rhythm::text::can_write);
        if self.piece.parts().iter().all(tells) {
            return Ok(self);
        }
        let mut losses = Losses::default();
        let mut parts = Vec::with_capacity(self.piece.parts().len());
        for part in self.piece.parts() {
            parts.push(Part { rhythm: told(part, &mut losses)?, ..part.clone() });
        }
        let piece = Piece::new(parts).map_err(of("all"))?;
        let mut unkept = self.unkept;
        unkept.extend(losses.listed());
        Ok(Self { piece, unkept })
    }
}

fn of(part: &str) -> impl Fn(rhythm::Error) -> Error {
    let part = part.to_owned();
    move |source| Error::Rhythm { part: part.clone(), source }
}

/// The rhythm with silence in the bars that have no words. What was held from such a bar is struck.
fn told(part: &Part, losses: &mut Losses) -> Result<Rhythm, Error> {
    let rhythm = &part.rhythm;
    let fault = of(part.name.as_deref().unwrap_or("1"));
    let mut bars = rhythm.bars().to_vec();
    let mut was_silenced = false;
    for bar in &mut bars {
        let silenced = !rhythm::text::can_write(bar);
        if silenced {
            losses.add("lengths that rhythm text has no words for (the bar is silent)", bar.number());
            *bar = silent(bar).map_err(&fault)?;
            if !rhythm::text::can_write(bar) {
                let (start, end) = (bar.start().to_string(), bar.end().to_string());
                return Err(Error::NoWords { bar: bar.number(), start, end });
            }
        } else if was_silenced {
            strike_first(bar, losses).map_err(&fault)?;
        }
        was_silenced = silenced;
    }
    loop {
        let made = Rhythm::new(
            rhythm.title().map(str::to_owned),
            rhythm.written_tempo(),
            bars.clone(),
            rhythm.repeats().to_vec(),
        );
        let made = made.and_then(|made| match rhythm.jump() {
            Some(jump) => made.with_jump(jump),
            None => Ok(made),
        });
        match made {
            // A repeat or a jump may lead from a silent bar to what is held.
            Err(rhythm::Error::HoldAfterSilence { bar: number, .. }) => {
                let mut struck = false;
                for bar in bars.iter_mut().filter(|bar| bar.number() == number) {
                    struck |= strike_first(bar, losses).map_err(&fault)?;
                }
                if !struck {
                    return made.map_err(fault);
                }
            }
            made => return made.map_err(fault),
        }
    }
}

/// Makes a hold at the beginning of a bar a struck note; whether there was one.
fn strike_first(bar: &mut Bar, losses: &mut Losses) -> Result<bool, rhythm::Error> {
    if bar.events()[0].deed != Deed::Hold {
        return Ok(false);
    }
    losses.add("a tie from a silent bar (read as a note struck anew)", bar.number());
    let mut events = bar.events().to_vec();
    events[0].deed = Deed::Attack;
    let made = Bar::cut(bar.number(), bar.meter(), bar.form(), events)?;
    let made = made.with_tuplets(bar.tuplets().to_vec())?;
    *bar = made.with_dynamics(bar.dynamics()).with_tempo(bar.tempo_mark());
    Ok(true)
}

/// The same bar without its notes, in counts, for its whole length may have no word.
fn silent(bar: &Bar) -> Result<Bar, rhythm::Error> {
    let rest = Event::new(bar.start(), bar.length(), Deed::Rest);
    let made = Bar::cut(bar.number(), bar.meter(), Form::Counts, vec![rest])?;
    Ok(made.with_dynamics(bar.dynamics()).with_tempo(bar.tempo_mark()))
}

/// Gives the parts of one piece names by which rhythm text tells them apart: each has one, no two the same in any case, and
/// none has the sign of a comment.
pub(super) fn name_apart(parts: &mut [Part]) {
    let most = usize::try_from(NAME_CHARS.most).unwrap_or(usize::MAX);
    let several = parts.len() > 1;
    let mut taken: Vec<String> = Vec::new();
    for (part, number) in parts.iter_mut().zip(1..) {
        let name = part.name.take().map(|name| without_comment_sign(&name));
        let name = name.filter(|name| !name.is_empty());
        let Some(name) = name.or_else(|| several.then(|| format!("part {number}"))) else { continue };
        let shortened = |room: usize| name.chars().take(room).collect::<String>().trim_end().to_owned();
        let mut apart = shortened(most);
        let mut times = 1;
        while taken.iter().any(|taken| taken.eq_ignore_ascii_case(&apart)) {
            times += 1;
            let behind = format!(" {times}");
            apart = shortened(most - behind.len()) + &behind;
        }
        taken.push(apart.clone());
        part.name = Some(apart);
    }
}

/// `Flute #2` as `Flute no. 2`, `Pad in F#` as `Pad in F♯`.
fn without_comment_sign(name: &str) -> String {
    let mut written = String::new();
    let mut signs = name.chars().peekable();
    while let Some(sign) = signs.next() {
        match sign {
            '#' if signs.peek().is_some_and(char::is_ascii_digit) => written.push_str("no. "),
            '#' => written.push('♯'),
            sign => written.push(sign),
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_named_apart() {
        let check = |names: &[&str], expected: &[&str]| {
            let rhythm = rhythm::text::read("| 1 |").rhythm.expect("a rhythm");
            let named = |name: &&str| Some((*name).to_owned()).filter(|name| !name.is_empty());
            let part = |name| Part { name: named(name), rhythm: rhythm.clone(), shares_line: false };
            let mut parts: Vec<Part> = names.iter().map(part).collect();
            name_apart(&mut parts);
            let found: Vec<&str> = parts.iter().map(|part| part.name.as_deref().unwrap_or("")).collect();
            assert_eq!(found, expected);
            let piece = Piece::new(parts).expect("the same bars");
            let text = rhythm::text::write_piece(&piece);
            assert_eq!(rhythm::text::read_piece(&text).piece, Some(piece), "{text}");
        };
        check(&["Pad", "pad", "Pad 2", "Pad"], &["Pad", "pad 2", "Pad 2 2", "Pad 3"]);
        check(&["", "Drum", ""], &["part 1", "Drum", "part 3"]);
        check(&[""], &[""]);
        check(&["Drum #1", "Drum #2", "in F#"], &["Drum no. 1", "Drum no. 2", "in F♯"]);
        let long = "x".repeat(60);
        check(&[&long, &long], &[&long, &format!("{} 2", "x".repeat(58))]);
    }
}
