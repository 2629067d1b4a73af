//! Which files a call reads and writes.

use super::paper::beside;
use super::{
    AnswersFlag, CheckCountsFlags, FileFlags, Job, JudgeFlags, PictureFlags, SheetFlags, SoundFlags,
    VoiceJob, WriteFlags,
};
use crate::overwriting::Files;

const RHYTHM: &str = "the rhythm";

impl Job {
    /// Every file that is named and read, and every one that is written. What a job keeps of itself (settings, takes in
    /// folders of their own) and what is rewritten on purpose (`countline format`) is not among them.
    pub(crate) fn files(&self) -> Files {
        let none = Files::default();
        match self {
            Self::Picture(flags) => picture(flags),
            Self::CheckCounts(flags) => check_counts(flags),
            Self::Write(flags) => write(flags),
            Self::Import(flags) => {
                none.read("the MusicXML file", &flags.file).write("--out", flags.out.as_ref())
            }
            Self::Export(flags) => none.read(RHYTHM, &flags.file).write("--out", Some(&flags.out)),
            Self::Sound(flags) => flags.named(),
            Self::Drill(flags) => {
                let read = none.read_all("the rhythm or plan", &flags.files);
                flags.written(read.read_voice(flags.voice.as_deref()))
            }
            Self::Judge(flags) => judge(flags),
            Self::Sheet(flags) => sheet(flags),
            Self::Pack(flags) => none
                .read_all(RHYTHM, &flags.files)
                .read_counting(&flags.counting.counting)
                .write("--out", Some(&flags.out)),
            Self::Chart(flags) => {
                none.read_counting(&flags.counting.counting).write_pages("--out", &flags.pages.out)
            }
            Self::Listen(flags) => none
                .read("the rhythm or plan", &flags.file)
                .read_take(flags.replay.as_deref())
                .write("--take", flags.take.as_ref()),
            Self::Voice(flags) => match &flags.job {
                VoiceJob::Check(flags) => {
                    none.read_voice(Some(&flags.name)).write("--svg", flags.svg.as_ref())
                }
                VoiceJob::Record(_) | VoiceJob::Import(_) => none,
            },
            Self::Count(_)
            | Self::Format(_)
            | Self::Spelling(_)
            | Self::Systems(_)
            | Self::Rubric(_)
            | Self::Practice(_)
            | Self::Devices(_)
            | Self::Players(_)
            | Self::Calibrate(_) => none,
        }
    }
}

impl SoundFlags {
    /// Its files but those of a take's players, whom only the take names.
    pub(crate) fn named(&self) -> Files {
        let read = Files::default()
            .read(RHYTHM, &self.file)
            .read_counting(&self.counting.counting)
            .read_voice(self.plan.voice.as_deref())
            .read_take(self.files.take.as_deref());
        let FileFlags { wav, midi, tracks, .. } = &self.files;
        let files = read.write("--wav", wav.as_ref()).write("--midi", midi.as_ref());
        let Some(folder) = tracks else { return files };
        let names = ["click.wav", "count.wav", "clap.wav", "tone.wav"];
        let files = files.write("--tracks", Some(folder));
        names.into_iter().fold(files, |files, name| files.write("--tracks", Some(folder.join(name))))
    }
}

fn picture(flags: &PictureFlags) -> Files {
    let files = Files::default().read(RHYTHM, &flags.file);
    let counted = flags.counts.counting.iter().fold(files, |files, name| files.read_counting(name));
    counted.write("--out", Some(&flags.out))
}

fn check_counts(flags: &CheckCountsFlags) -> Files {
    Files::default()
        .read(RHYTHM, &flags.file)
        .read_all("the answers", &flags.answers)
        .read_counting(&flags.counting.counting)
        .write("--table", flags.table.as_ref())
}

fn write(flags: &WriteFlags) -> Files {
    Files::default()
        .read_take(flags.from_take.as_deref())
        .read_all("the counting", &flags.from_counting)
        .read_counting(&flags.counting.counting)
        .write("--out", flags.out.as_ref())
}

fn judge(flags: &JudgeFlags) -> Files {
    Files::default()
        .read(RHYTHM, &flags.file)
        .read_take(Some(&flags.take))
        .read_all("the rubric", &flags.teacher.rubric)
        .write("--svg", flags.svg.as_ref())
        .write("--pdf", flags.paper.pdf.as_ref())
}

fn sheet(flags: &SheetFlags) -> Files {
    let read = Files::default().read_all(RHYTHM, &flags.files).read_counting(&flags.counting.counting);
    let out = &flags.pages.out;
    // A version has its letter behind the name, and a key the word.
    let versions = if flags.versions == 1 && flags.each.is_none() {
        vec![out.clone()]
    } else {
        let letters = ('A'..='Z').take(flags.versions);
        letters.map(|letter| beside(out, &format!("-{letter}"))).collect()
    };
    versions.iter().fold(read, |files, version| match flags.answers {
        AnswersFlag::Blank | AnswersFlag::Key => files.write_pages("--out", version),
        AnswersFlag::Both => {
            files.write_pages("--out", version).write_pages("--out", &beside(version, "-key"))
        }
    })
}
