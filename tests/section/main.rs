//! A section on a JACK server of its own, played by the whole program for minutes.
//!
//! ```sh
//! cargo run --release -p tests --bin section_on_jack -- section MINUTES PLAYERS STROKES_A_SECOND
//! cargo run --release -p tests --bin section_on_jack -- thru STROKES
//! cargo run --release -p tests --bin section_on_jack -- alone MINUTES
//! ```
//!
//! `section`: as many players strike at frames that are known, and hear the click; printed are lost, doubled and misplaced strokes of
//! the take, how exact its stamps are against the click that was heard, their drift, and the processor time and memory of the
//! program. `thru`: how long after a stroke its sound leaves the program. `alone`: how often the server is late while nothing but
//! the players is there, to tell what the machine does from what the program does. The server is real-time, on its driver that needs no
//! sound card.

#![expect(clippy::print_stdout, reason = "what was measured is printed")]

#[cfg(target_os = "linux")]
mod players;

#[cfg(target_os = "linux")]
fn main() {
    linux::main();
}

#[cfg(not(target_os = "linux"))]
fn main() {
    println!("there is a JACK server without a sound card on Linux only");
}

#[cfg(target_os = "linux")]
mod linux {
    use std::path::Path;
    use std::process::{Child, Command, Stdio};
    use std::time::Duration;

    use tests::jackd::{Listener, Server, connect, wait_for_port};
    use tests::program;

    use crate::players::{Plan, Players};

    /// Where libjack reads the name of the server.
    const SERVER: &str = "JACK_DEFAULT_SERVER";
    const INSIDE: &str = "COUNTLINE_SECTION_INSIDE";

    /// The program is built as the harness is.
    pub(super) fn main() {
        if std::env::var_os(INSIDE).is_some() {
            return inside();
        }
        let name = format!("countline-section-{}", std::process::id());
        let _server = Server::named(&name);
        let status = Command::new(std::env::current_exe().expect("a program knows its own file"))
            .args(std::env::args().skip(1))
            .env(SERVER, &name)
            .env(INSIDE, "1")
            .status()
            .expect("a program can run itself");
        assert!(status.success(), "{status}");
    }

    fn inside() {
        // It is built first where it has changed: players do not wait for that.
        program::call(["--version"]).stdout(Stdio::null()).status().expect("countline runs");
        let arguments: Vec<String> = std::env::args().skip(1).collect();
        let number =
            |at: usize, usual: u64| arguments.get(at).and_then(|text| text.parse().ok()).unwrap_or(usual);
        match arguments.first().map(String::as_str) {
            Some("thru") => thru(number(1, 200)),
            Some("alone") => alone(number(1, 1)),
            _ => section(number(1, 10), number(2, 32), number(3, 16)),
        }
    }

    fn listen(folder: &Path, rhythm: &str, more: &[String]) -> Child {
        let file = folder.join("beats.rhythm");
        std::fs::write(&file, rhythm).expect("the rhythm is written");
        let mut call =
            program::call(["listen", "--system", "jack", "--json", "--mute", "count", "--mute", "clap"]);
        // A pipe that nobody reads would hold the program up.
        let said = std::fs::File::create(folder.join("said.txt")).expect("a file");
        call.args(more).arg(&file).stdout(Stdio::null()).stderr(said);
        call.spawn().expect("countline runs")
    }

    fn wire(players: &Players) {
        let program = wait_for_port(players.client(), "countline.*:out_0$|cpal.*:out_0$");
        connect(players.client(), &program, "section:ear");
    }

    /// Processor time in hundredths of a second, and memory in kB.
    fn needs(child: &Child) -> Option<(u64, u64)> {
        let of = |file: &str| std::fs::read_to_string(format!("/proc/{}/{file}", child.id())).ok();
        let stat = of("stat")?;
        let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
        let ticks = fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?;
        let status = of("status")?;
        let line = status.lines().find(|line| line.starts_with("VmRSS"))?;
        Some((ticks, line.split_whitespace().nth(1)?.parse().ok()?))
    }

    fn section(minutes: u64, count: u64, a_second: u64) {
        assert!((1..=50).contains(&minutes) && (1..=32).contains(&count), "up to 50 minutes and 32 players");
        // Thirty bars of two seconds a minute; what is struck is what is written, where a bar holds so many strokes.
        let bar = match a_second {
            4 => "1 & 2 & 3 & 4 & | ",
            8 => "1 e & a 2 e & a 3 e & a 4 e & a | ",
            _ => "1 2 3 4 | ",
        };
        let bars = bar.repeat(30).trim_end_matches([' ', '|']).to_owned();
        let rhythm = format!(
            "meter: 4/4\ntempo: quarter = 120\n{}\n",
            if minutes == 1 { format!("| {bars} |") } else { format!("|: {bars} :| {minutes} times") }
        );
        let folder = tempfile::tempdir().expect("a folder");
        let take = folder.path().join("take");
        let mut more = vec!["--take".to_owned(), take.to_string_lossy().into_owned()];
        for player in 0..count {
            let (port, channel) = (if player < 16 { "section:a" } else { "section:b" }, player % 16 + 1);
            more.extend(["--player".to_owned(), format!("K{player:02}={port},channel={channel}")]);
        }
        let plan = Plan { count, a_second, strokes: (minutes * 60 - 3) * a_second, first: None };
        let witness = Listener::start("witness");
        let mut players = Players::start(plan);
        let mut child = listen(folder.path(), &rhythm, &more);
        wire(&players);
        let mut needed = Vec::new();
        while child.try_wait().expect("a child can be asked").is_none() {
            std::thread::sleep(Duration::from_millis(1_000));
            needed.extend(needs(&child));
            players.fetch();
        }
        players.fetch();
        let said = std::fs::read_to_string(folder.path().join("said.txt")).expect("UTF-8");
        for line in said.lines().filter(|line| !line.starts_with('K')) {
            println!("  {line}");
        }
        println!("the server was late {} times", witness.lost());
        compare(&take, &players, minutes);
        // Once the drill is over everybody is judged as a whole, and it is all printed.
        let drill = needed.len().min((minutes * 60).try_into().unwrap_or(usize::MAX));
        if let ([_, .., last], Some(most)) =
            (&needed[10.min(drill)..drill], needed.iter().map(|(_, kb)| kb).max())
        {
            let first = needed[10.min(drill)];
            println!(
                "{:.1} % of one core while it is played; {} kB after ten seconds, {} kB in the last second of the drill, {most} kB at \
                 most, when all of it is judged",
                (last.0 - first.0) as f64 / (drill - 11) as f64,
                first.1,
                last.1,
            );
        }
    }

    fn compare(take: &Path, players: &Players, minutes: u64) {
        let take = take::Take::open(take).expect("the take opens");
        let clicks = &take.header().clicks;
        // Those of the count-in that sounded before the ear was wired are lacking at the beginning.
        let lacking = clicks.len() - players.heard.len().min(clicks.len());
        let (first, first_click) = (players.heard[0], clicks[lacking].at);
        let plan = &players.plan;
        let (mut lost, mut doubled, mut disorder) = (0u64, 0u64, 0usize);
        let (mut errors, mut outside, mut begins, mut ends) =
            (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let marked = |at| take.disturbed().iter().any(|stretch| (stretch.from..=stretch.to).contains(&at));
        for number in 0..plan.count {
            let label = format!("K{number:02}");
            let strokes = take
                .players()
                .iter()
                .find(|player| player.label == label)
                .map_or(&[][..], |player| &player.strokes);
            let kept = strokes.len() as u64;
            lost += plan.strokes.saturating_sub(kept);
            doubled += kept.saturating_sub(plan.strokes);
            disorder += strokes.windows(2).filter(|pair| pair[1].at < pair[0].at).count();
            for (stroke, index) in strokes.iter().zip(0..) {
                let frame = players.frame(number, index, first);
                let expected = (frame - first - players.latency) as f64 / 48.0;
                let off = (stroke.at - first_click).as_millis_f64() - expected;
                errors.push(off.abs());
                if !marked(stroke.at) {
                    outside.push(off.abs());
                }
                if index < plan.strokes / 10 {
                    begins.push(off);
                } else if index >= plan.strokes - plan.strokes / 10 {
                    ends.push(off);
                }
            }
        }
        for offs in [&mut errors, &mut outside] {
            offs.sort_by(f64::total_cmp);
        }
        let of = |offs: &[f64], percent: usize| {
            let last = offs.len().saturating_sub(1);
            offs.get((offs.len() * percent / 100).min(last)).copied().unwrap_or(f64::NAN)
        };
        let at = |percent: usize| of(&errors, percent);
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
        println!(
            "{} players, {} strokes a second, {minutes} min: {} strokes, {lost} lost, {doubled} doubled, {disorder} out of order; \
             {} frames left out by the server, {} stretches marked; against the click that was heard: median {:.3} ms, 99 % within \
             {:.3} ms, worst {:.3} ms; the {} outside the marked stretches: 99 % within {:.3} ms, worst {:.3} ms; drift {:.4} ms",
            plan.count,
            plan.a_second,
            plan.count * plan.strokes,
            players.skipped(),
            take.disturbed().len(),
            at(50),
            at(99),
            at(100),
            outside.len(),
            of(&outside, 99),
            of(&outside, 100),
            mean(&ends) - mean(&begins),
        );
    }

    fn alone(minutes: u64) {
        let witness = Listener::start("witness");
        let players = Players::start(Plan { count: 1, a_second: 4, strokes: 0, first: None });
        for minute in 1..=minutes {
            let before = witness.lost();
            std::thread::sleep(Duration::from_secs(60));
            println!("minute {minute}: the server alone was late {} times", witness.lost() - before);
        }
        println!("{} frames left out by the server", players.skipped());
    }

    fn thru(strokes: u64) {
        let folder = tempfile::tempdir().expect("a folder");
        let minutes = (strokes * 2 / 3 / 60 + 1).min(50);
        let bars = "1 2 3 4 | ".repeat(30).trim_end_matches([' ', '|']).to_owned();
        let rhythm = format!("meter: 4/4\ntempo: quarter = 120\n|: {bars} :| {} times\n", minutes.max(2));
        let more = ["--no-take", "--thru", "100", "--mute", "click"].map(str::to_owned);
        // Two strokes in three seconds, from five seconds on.
        let plan = Plan { count: 1, a_second: 0, strokes, first: Some(240_000) };
        let mut players = Players::start(plan);
        let mut child = listen(folder.path(), &rhythm, &more);
        wire(&players);
        let mut silent = 0;
        while (players.heard.len() as u64) < strokes && silent < 15 {
            std::thread::sleep(Duration::from_millis(1_000));
            let before = players.heard.len();
            players.fetch();
            silent = if players.heard.len() == before { silent + 1 } else { 0 };
        }
        child.kill().ok();
        child.wait().ok();
        if players.heard.is_empty() {
            let said = std::fs::read_to_string(folder.path().join("said.txt")).expect("UTF-8");
            println!("nothing sounded; the program said:\n{said}");
        }
        let mut delays = Vec::new();
        for &(struck, _) in &players.struck {
            let after = players.heard.iter().find(|&&heard| heard >= struck && heard < struck + 24_000);
            delays.extend(after.map(|heard| heard - struck));
        }
        delays.sort_unstable();
        let at = |percent: usize| {
            delays
                .get((delays.len() * percent / 100).min(delays.len().saturating_sub(1)))
                .copied()
                .unwrap_or(-1)
        };
        println!(
            "{} of {strokes} strokes sounded; frames from the stroke to its sound leaving the program, blocks of 256: median {}, 95 % {}, \
             99 % {}, worst {}; the loudspeaker's {} frames come on top; {} frames left out by the server",
            delays.len(),
            at(50),
            at(95),
            at(99),
            at(100),
            players.latency,
            players.skipped()
        );
    }
}
