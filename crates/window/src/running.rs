//! What the window knows of a drill: what the rig told, nothing more.

use std::path::PathBuf;
use std::sync::Arc;

use judge::{Delay, Finding, FindingKind, Judgement, Task};
use live::{Event, Phase, PlayerState};
use take::json::{FindingRef, RemarkForm};
use take::{Ended, Notes};

/// So many letters of names stand behind what is told of a section; who else it is about is counted.
const NAMED: usize = 30;

/// A drill that runs or has ended.
#[derive(Clone, Debug)]
pub(crate) struct Running {
    pub(crate) phase: Phase,
    pub(crate) players: Arc<[PlayerState]>,
    /// What heads the rows of those who play, from when it was first told on: also while nothing of theirs is shown.
    pub(crate) heads: Option<Vec<Head>>,
    pub(crate) ended: Option<Ended>,
    pub(crate) take: Option<PathBuf>,
    /// How the sound was disturbed, the last time or in all.
    pub(crate) disturbed: Option<String>,
    /// What a person should know of, in order, each once.
    pub(crate) notices: Vec<String>,
    /// What the teacher has said of it.
    pub(crate) notes: Notes,
}

impl Running {
    /// A drill that was just asked for.
    pub(crate) fn new() -> Self {
        Self {
            phase: Phase::CountIn,
            players: Arc::from([]),
            heads: None,
            ended: None,
            take: None,
            disturbed: None,
            notices: Vec::new(),
            notes: Notes::default(),
        }
    }

    /// Whether it goes on.
    pub(crate) fn goes_on(&self) -> bool {
        self.ended.is_none()
    }

    /// Takes in what happened. Says whether the players' rows are others than before.
    pub(crate) fn heed(&mut self, event: Event) -> bool {
        match event {
            Event::Phase(phase) => self.phase = phase,
            // The screen's, where a plan is shown.
            Event::Part(_) | Event::Round(_) => {}
            // The judgement that follows holds the whole.
            Event::Struck { .. } => {}
            Event::Judged(players) => {
                self.shows(players);
                return true;
            }
            Event::Disturbed { why } => {
                self.disturbed = Some(format!("Sound was disturbed ({why}); the take is marked there."));
            }
            Event::Notice(notice) => self.notice(sentence(&notice)),
            Event::Ended { ended, players, take, disturbances, cut } => {
                if let Some(cut) = cut {
                    self.notice(sentence(&cut.says(&cut.after())));
                }
                self.ended = Some(ended);
                self.shows(players);
                self.take = take;
                self.phase = Phase::Judged;
                if disturbances > 0 {
                    let times =
                        if disturbances == 1 { "once".to_owned() } else { format!("{disturbances} times") };
                    self.disturbed =
                        Some(format!("Sound was lost {times}: what is judged near there is unsure."));
                }
                return true;
            }
            // Those are heeded by the screen.
            Event::Order(_) | Event::Touched(_) => {}
            Event::SoundBack { name, .. } => self.notice(format!("Sound plays again through {name}.")),
            // Why is told as long as it lasts.
            Event::SoundGone { .. } => {
                self.ended.get_or_insert(Ended::Stopped);
            }
        }
        false
    }

    fn shows(&mut self, players: Arc<[PlayerState]>) {
        self.heads = Some(players.iter().map(Head::of).collect());
        self.players = players;
    }

    fn notice(&mut self, notice: String) {
        if !self.notices.contains(&notice) {
            self.notices.push(notice);
        }
    }

    /// How each player did, in a sentence: what was struck, missed and extra, and the sums where they are known.
    pub(crate) fn sums(&self) -> Vec<String> {
        self.players.iter().map(sums).collect()
    }

    /// The findings, the most useful first.
    ///
    /// With `names`, each begins with the player it is about; without, alike ones of several players are one
    /// sentence that says of how many.
    pub(crate) fn findings(&self, names: bool) -> Vec<Told> {
        match &*self.players {
            [] => Vec::new(),
            [player] => self.of_one(player, false),
            players if names => players.iter().flat_map(|player| self.of_one(player, true)).collect(),
            players => self.of_all(players),
        }
    }

    fn of_one(&self, player: &PlayerState, named: bool) -> Vec<Told> {
        said(&player.judgement)
            .map(|(finding, doubtful)| self.told(player, finding, doubtful, named))
            .collect()
    }

    fn told(&self, player: &PlayerState, finding: &Finding, doubtful: bool, named: bool) -> Told {
        let says = words(finding, doubtful);
        let says = if named { format!("{}: {}", player.label, full(&says)) } else { sentence(&says) };
        let of = FindingRef::of(&player.label, finding);
        let overruled = self.notes.overrules(&of);
        Told { says, player: player.label.clone(), of: vec![of], overruled, doubtful }
    }

    /// Those of a section, without names.
    fn of_all(&self, players: &[PlayerState]) -> Vec<Told> {
        let mut deeds: Vec<(&Finding, bool, Vec<FindingRef>)> = Vec::new();
        for player in players {
            for (finding, doubtful) in said(&player.judgement) {
                let of = FindingRef::of(&player.label, finding);
                let same = |other: &Finding, so: bool| so == doubtful && other.says == finding.says;
                match deeds.iter_mut().find(|(other, so, _)| same(other, *so)) {
                    Some((.., others)) => others.push(of),
                    None => deeds.push((finding, doubtful, vec![of])),
                }
            }
        }
        // What is to be mended is said first, what many did before what one did, and else the most useful; what is doubtful last.
        deeds.sort_by_key(|(finding, doubtful, of)| {
            (*doubtful, !finding.kind.is_mistake(), std::cmp::Reverse(of.len()), finding.kind)
        });
        let told = |(finding, doubtful, of): (&Finding, bool, Vec<FindingRef>)| {
            // Who made a mistake is not told before the class; whose pad is away can be mended there only if it is known.
            let who = if finding.kind == FindingKind::NotThere {
                named(of.iter().map(|of| of.player.as_str()))
            } else {
                format!("{} of {}", of.len(), players.len())
            };
            let says = sentence(&format!("{} ({who})", words(finding, doubtful)));
            let overruled = of.iter().all(|of| self.notes.overrules(of));
            Told { says, player: String::new(), of, overruled, doubtful }
        };
        deeds.into_iter().map(told).collect()
    }

    /// The sentences of a report: at most so many findings, of each player or of the section as a whole, the overruled left
    /// out; and how many more there are. What is doubtful is told with all the others only.
    pub(crate) fn report(&self, names: bool, most: usize) -> (Vec<String>, usize) {
        let (mut says, mut more) = (Vec::new(), 0);
        let (mut player, mut of_player) = (String::new(), 0);
        for told in self.findings(names).into_iter().filter(|told| !told.overruled) {
            if told.player != player {
                (player, of_player) = (told.player, 0);
            }
            of_player += 1;
            if of_player <= most && (!told.doubtful || most == usize::MAX) {
                says.push(told.says);
            } else {
                more += 1;
            }
        }
        (says, more)
    }

    /// Overrules a finding, or lets it count again; `words` are kept with it. Nothing is taken away of what was said.
    pub(crate) fn rule(&mut self, told: &Told, words: Option<String>) -> Result<(), String> {
        let now = live::now();
        for of in &told.of {
            let (of, words) = (of.clone(), words.clone());
            self.keep(if told.overruled {
                RemarkForm::upheld(&now, of, words)
            } else {
                RemarkForm::overruled(&now, of, words)
            })?;
        }
        Ok(())
    }

    /// Keeps a teacher's words with the take.
    pub(crate) fn note(&mut self, words: &str) -> Result<(), String> {
        self.keep(RemarkForm::note(&live::now(), words))
    }

    fn keep(&mut self, remark: RemarkForm) -> Result<(), String> {
        let take =
            self.take.as_ref().ok_or("no take was kept of this drill, so nothing can be kept with it")?;
        self.notes = Notes::add(take, remark).map_err(|error| error.to_string())?;
        Ok(())
    }
}

/// What stands at the beginning of a row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Head {
    /// Who.
    pub(crate) label: String,
    /// What is to be known of the player's pads; empty where there is nothing.
    pub(crate) state: String,
}

impl Head {
    fn of(player: &PlayerState) -> Self {
        Self { label: player.label.clone(), state: player.state() }
    }

    /// Of a row whose player nothing is to be known of.
    pub(crate) fn called(label: &str) -> Self {
        Self { label: label.to_owned(), state: String::new() }
    }
}

/// One finding as it is told.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Told {
    /// A sentence.
    pub(crate) says: String,
    /// The one it is about; empty where it is told of several without names.
    player: String,
    /// Which it is, of whom.
    of: Vec<FindingRef>,
    /// Whether the teacher has overruled it.
    pub(crate) overruled: bool,
    /// Whether it is likelier wrong than right: then it counts for nothing, and need not be overruled.
    pub(crate) doubtful: bool,
}

/// What is said of a player, and after it what is doubtful.
fn said(judgement: &Judgement) -> impl Iterator<Item = (&Finding, bool)> {
    let sure = judgement.findings().iter().map(|finding| (finding, false));
    sure.chain(judgement.doubtful().iter().map(|finding| (finding, true)))
}

fn words(finding: &Finding, doubtful: bool) -> String {
    if doubtful { format!("perhaps: {}", finding.says) } else { finding.says.clone() }
}

/// `K1, K2 and K3`, or as many as there is room for and how many more; one at least.
fn named<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.collect();
    let mut letters = 0;
    let fits = |name: &&&str| {
        letters += name.chars().count() + 2;
        letters <= NAMED
    };
    let fitting = names.iter().take_while(fits).count().max(1).min(names.len());
    let (shown, more) = names.split_at(fitting);
    match (shown, more.len()) {
        ([first @ .., last], 0) if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        (shown, 0) => shown.join(", "),
        (shown, more) => format!("{} and {more} more", shown.join(", ")),
    }
}

fn sums(player: &PlayerState) -> String {
    let judgement = &player.judgement;
    let (sums, missed) = (judgement.sums(), judgement.missed().count());
    let extra = judgement.attacks().len().saturating_sub(sums.matched);
    let mut parts = vec![format!("{} struck, {missed} missed, {extra} extra", sums.matched)];
    if let Some(bias) = sums.bias {
        let with = if judgement.delay() == Delay::Unknown { " (delay not measured)" } else { "" };
        parts.push(format!("bias {} ms{with}", signed(bias.as_millis_f64(), 0)));
    }
    if let Some(spread) = sums.spread {
        parts.push(format!("spread {:.0} ms", spread.as_millis_f64()));
    }
    if let Some(drift) = sums.drift {
        parts.push(format!("drift {} %", signed(drift.percent, 1)));
    }
    if !player.missing.is_empty() {
        parts.push(format!("{} not there", player.missing.join(" and ")));
    }
    if !player.held.is_empty() {
        parts.push(format!("{} held back", player.held.join(" and ")));
    }
    if player.shaken > 0 {
        parts.push(format!("{} by cross-talk and not judged", player.shaken));
    }
    let keeps = if judgement.task() == Task::Pulse { " keeps the pulse" } else { "" };
    format!("{}{keeps}: {}.", player.label, parts.join(", "))
}

/// With its sign, no sign for nothing.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let sign = match text.bytes().any(|digit| matches!(digit, b'1'..=b'9')) {
        false => "",
        true if value < 0.0 => "−",
        true => "+",
    };
    format!("{sign}{text}")
}

/// A capital at the beginning and a full stop at the end. What begins with a code or a path (`k1`, `takes/3`) keeps it as it is.
pub(crate) fn sentence(says: &str) -> String {
    let first = says.split([' ', ',', ':', ';', '.', '!', '?']).next().unwrap_or_default();
    let mut letters = says.chars();
    match letters.next() {
        Some(letter)
            if first.chars().all(|letter| letter.is_alphabetic() || matches!(letter, '\'' | '’' | '-')) =>
        {
            full(&format!("{}{}", letter.to_uppercase(), letters.as_str()))
        }
        _ => full(says),
    }
}

fn full(says: &str) -> String {
    if says.is_empty() || says.ends_with(['.', '!', '?', ':']) { says.to_owned() } else { format!("{says}.") }
}

/// A phase in a word or two.
pub(crate) fn phase_words(phase: Phase) -> &'static str {
    match phase {
        Phase::Ready => "ready",
        Phase::CountIn => "count-in",
        Phase::Playing => "playing",
        Phase::RingingOut => "last attacks",
        Phase::Judged => "over",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_begin_and_end() {
        assert_eq!(sentence("bar 1: the rest on 3 was struck"), "Bar 1: the rest on 3 was struck.");
        assert_eq!(sentence("plug it in!"), "Plug it in!");
        assert_eq!(sentence(""), "");
        assert_eq!(sentence("k1: the rest on 3 was struck"), "k1: the rest on 3 was struck.");
        assert_eq!(sentence("takes/one is there already"), "takes/one is there already.");
        assert_eq!(sentence("\"pad\" is back"), "\"pad\" is back.");
    }

    #[test]
    fn as_many_are_named_as_there_is_room_for() {
        let check = |names: &[&str], expected: &str| assert_eq!(named(names.iter().copied()), expected);
        check(&["K1"], "K1");
        check(&["K1", "K2"], "K1 and K2");
        check(&["K1", "K2", "K3"], "K1, K2 and K3");
        check(&["Bartholomew", "Wilhelmina", "Maximiliane"], "Bartholomew, Wilhelmina and 1 more");
        check(
            &["a name for which there is no room at all", "K2"],
            "a name for which there is no room at all and 1 more",
        );
    }

    #[test]
    fn numbers_carry_their_sign() {
        let check = |value, decimals, expected: &str| assert_eq!(signed(value, decimals), expected);
        check(-4.2, 0, "−4");
        check(0.4, 1, "+0.4");
        check(-0.04, 1, "0.0");
    }

    #[test]
    fn the_same_notice_stands_once() {
        let mut running = Running::new();
        for _ in 0..3 {
            assert!(!running.heed(Event::Notice("the microphone has gone".to_owned())));
        }
        assert_eq!(running.notices, ["The microphone has gone."]);
        for why in ["a dropout", "another dropout"] {
            running.heed(Event::Disturbed { why: why.to_owned() });
        }
        let disturbed = running.disturbed.as_deref();
        assert_eq!(disturbed, Some("Sound was disturbed (another dropout); the take is marked there."));
        running.heed(Event::SoundGone { why: "unplugged".to_owned() });
        assert!(!running.goes_on());
        // Why there is no sound is told as long as it lasts, by the devices.
        assert_eq!(running.notices.len(), 1);
    }
}
