use counting::answers::{Answer, BarResult, CheckedCount, Misunderstanding, MisunderstandingKind};
use rhythm::Rhythm;
use serde::Serialize;

use super::{VERSION, deed};

/// What `check-counts --json` prints: every pupil's counting, answered count by count, and what many misunderstood.
///
/// ```
/// let rhythm = rhythm::text::read("meter: 2/4\n| 1 & 2 |").rhythm.expect("no errors");
/// let key = counting::count(&rhythm);
/// let answer = counting::answers::check(&key, &rhythm, "1 + 2");
/// let file = take::json::AnswersFile::of(&rhythm, "numbers", [("K07", "1 + 2", &answer)]);
/// assert!(take::json::text(&file).contains("\"right\": 3"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AnswersFile {
    version: u32,
    title: Option<String>,
    system: String,
    pupils: Vec<PupilForm>,
    misunderstandings: Vec<ClassMisunderstandingForm>,
}

/// One pupil's counting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PupilForm {
    code: String,
    text: String,
    right: usize,
    of: usize,
    extra: usize,
    bars: Vec<BarResultForm>,
    counts: Vec<CheckedForm>,
    misunderstandings: Vec<MisunderstandingForm>,
}

/// How one written bar was counted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BarResultForm {
    bar: u32,
    right: usize,
    of: usize,
    extra: usize,
}

/// One count: what the key has, what is written, and how they go together. A word that answers no count has a null `key`, a
/// missing count a null `written`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CheckedForm {
    bar: u32,
    verdict: &'static str,
    key: Option<KeyForm>,
    written: Option<WrittenForm>,
}

/// A count of the key.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeyForm {
    at: String,
    say: String,
    #[serde(rename = "do")]
    deed: &'static str,
}

/// A word of the answer, with the characters of `text` it stands on: the first, and the first behind it, from 0.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WrittenForm {
    span: [usize; 2],
    say: String,
    #[serde(rename = "do")]
    deed: &'static str,
}

/// A mistake that has a name, in one answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MisunderstandingForm {
    kind: &'static str,
    bar: u32,
    at: String,
    bars: Vec<u32>,
    evidence: Vec<[usize; 2]>,
    explains: usize,
    says: String,
}

/// A mistake that has a name, in the class: the commonest first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ClassMisunderstandingForm {
    kind: &'static str,
    title: &'static str,
    codes: Vec<String>,
}

impl AnswersFile {
    /// The form of these answers to `rhythm`, each with the pupil's code and the text that was checked. `system` is the
    /// name of the key's counting system.
    #[must_use]
    pub fn of<'a>(
        rhythm: &Rhythm,
        system: &str,
        answers: impl IntoIterator<Item = (&'a str, &'a str, &'a Answer)>,
    ) -> Self {
        let mut pupils = Vec::new();
        let mut kinds: Vec<(MisunderstandingKind, Vec<String>)> = Vec::new();
        for (code, text, answer) in answers {
            for found in answer.misunderstandings() {
                match kinds.iter_mut().find(|(kind, _)| *kind == found.kind) {
                    Some((_, codes)) => codes.push(code.to_owned()),
                    None => kinds.push((found.kind, vec![code.to_owned()])),
                }
            }
            pupils.push(PupilForm::of(rhythm, code, text, answer));
        }
        kinds.sort_by_key(|(kind, codes)| (usize::MAX - codes.len(), *kind));
        let class = |(kind, codes): (MisunderstandingKind, Vec<String>)| ClassMisunderstandingForm {
            kind: kind.name(),
            title: kind.title(),
            codes,
        };
        Self {
            version: VERSION,
            title: rhythm.title().map(str::to_owned),
            system: system.to_owned(),
            pupils,
            misunderstandings: kinds.into_iter().map(class).collect(),
        }
    }
}

impl PupilForm {
    fn of(rhythm: &Rhythm, code: &str, text: &str, answer: &Answer) -> Self {
        let characters = Characters::of(text);
        Self {
            code: code.to_owned(),
            text: text.to_owned(),
            right: answer.right(),
            of: answer.of(),
            extra: answer.extra(),
            bars: answer.bars().iter().map(BarResultForm::of).collect(),
            counts: answer.counts().iter().map(|count| CheckedForm::of(rhythm, count, &characters)).collect(),
            misunderstandings: answer
                .misunderstandings()
                .iter()
                .map(|found| MisunderstandingForm::of(rhythm, found, &characters))
                .collect(),
        }
    }
}

impl BarResultForm {
    fn of(bar: &BarResult) -> Self {
        Self { bar: bar.number, right: bar.right, of: bar.of, extra: bar.extra }
    }
}

impl CheckedForm {
    fn of(rhythm: &Rhythm, count: &CheckedCount, characters: &Characters) -> Self {
        Self {
            bar: number(rhythm, count.bar),
            verdict: count.verdict.name(),
            key: count.key.as_ref().map(|key| KeyForm {
                at: key.at.to_string(),
                say: key.say.as_str().to_owned(),
                deed: deed(key.deed),
            }),
            written: count.written.as_ref().map(|word| WrittenForm {
                span: characters.span(&word.span),
                say: word.word.clone(),
                deed: deed(word.deed),
            }),
        }
    }
}

impl MisunderstandingForm {
    fn of(rhythm: &Rhythm, found: &Misunderstanding, characters: &Characters) -> Self {
        Self {
            kind: found.kind.name(),
            bar: number(rhythm, found.bar),
            at: found.at.to_string(),
            bars: found.bars.iter().map(|bar| number(rhythm, *bar)).collect(),
            evidence: found.evidence.iter().map(|span| characters.span(span)).collect(),
            explains: found.explains,
            says: found.says.clone(),
        }
    }
}

fn number(rhythm: &Rhythm, bar: usize) -> u32 {
    rhythm.bars().get(bar).map_or(0, rhythm::Bar::number)
}

/// Bytes of a text as characters, for programs that count those.
struct Characters {
    /// The byte at which each character begins; empty where every character is one byte.
    starts: Vec<usize>,
}

impl Characters {
    fn of(text: &str) -> Self {
        let starts =
            if text.is_ascii() { Vec::new() } else { text.char_indices().map(|(at, _)| at).collect() };
        Self { starts }
    }

    fn at(&self, byte: usize) -> usize {
        if self.starts.is_empty() { byte } else { self.starts.partition_point(|start| *start < byte) }
    }

    fn span(&self, bytes: &std::ops::Range<usize>) -> [usize; 2] {
        [self.at(bytes.start), self.at(bytes.end)]
    }
}
