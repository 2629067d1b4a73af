//! Takes of drill plans: made by the engine without devices, judged by the program.

use std::path::Path;
use std::sync::Arc;

use live::offline::{Offline, Setup};
use live::{Drill, Event, Part, Planned};
use rhythm::Deed;
use sequencer::drill::{Audible, DrillPlan, Heard, Material, Pace, SectionKind, Steps, Turns, bars_named};
use sequencer::{Plan, sequence};
use serde_json::Value;
use tests::program::run;
use tests::python;
use timebase::{Moment, Ratio, Seconds};

use crate::json;

const FIRST: &str = "title: Four and a half\nmeter: 4/4\ntempo: quarter = 100\n\n| 1 2 & 3 4 |\n";
const SECOND: &str = "title: With a rest\nmeter: 3/4\ntempo: quarter = 100\n\n| 1 (2) 3 & |\n";
/// The same plan as a file.
const FILE: &str = "title = \"Two bars\"\nrhythms = [\"first.rhythm\", \"second.rhythm\"]\ntimes = 2\nplayers = [\"K1\", \"K2\"]\n\
                    [tempo]\nat = 100\nstep = 10\nfastest = 120\nup-after = 1\n";

fn planned() -> Planned {
    let materials = [FIRST, SECOND].map(|text| {
        let rhythm = rhythm::text::read(text).rhythm.expect("a rhythm");
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    });
    let bpm = Ratio::from_integer;
    let steps = Steps {
        from: bpm(100),
        by: bpm(10),
        up_after: 1,
        down_after: 1,
        least: bpm(100),
        most: bpm(120),
        ends_at_most: false,
    };
    let players = vec!["K1".to_owned(), "K2".to_owned()];
    let plan = DrillPlan {
        times: 2,
        pace: Pace::Stepping(steps),
        turns: Turns { players, ..Turns::default() },
        ..DrillPlan::default()
    };
    let drill = sequencer::drill::Drill::new(plan, materials.into()).expect("a plan");
    Planned::new(Some("Two bars".to_owned()), drill)
}

/// Somebody at one pad plays every response 20 ms late, claps along with the first call, and in the third round strikes the & of 2 no
/// more.
fn play(take: &Path) {
    play_plan(&planned(), (3, 2), take);
}

/// The same of any plan; `left_out` is the stroke of a round that is not struck, both by their numbers. Gives what was told of each
/// part while it was heard.
fn play_plan(planned: &Planned, left_out: (usize, usize), take: &Path) -> Vec<Arc<Part>> {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let drill = Drill { take: Some(take.to_owned()), ..Drill::of_plan(planned.clone()) };
    engine.start(drill).expect("a drill");
    let mut strokes: Vec<Moment> = Vec::new();
    let (mut over, mut told) = (false, Vec::new());
    while !over {
        engine.pass(Seconds::from_millis(1));
        for event in engine.events().try_iter() {
            match event {
                Event::Part(part) => {
                    told.push(Arc::clone(&part));
                    let asked = match part.section {
                        SectionKind::Response(_) => true,
                        SectionKind::Call => part.round == 1,
                        _ => false,
                    };
                    if !asked {
                        continue;
                    }
                    let rhythm = planned.drill.rhythms()[part.rhythm].rhythm();
                    let plan = Plan::of(rhythm).with_bpm(part.tempo.bpm()).expect("a tempo");
                    let sequence = sequence(rhythm, &counting::count(rhythm), &plan);
                    let attacks = sequence.counts().iter().filter(|count| count.deed == Deed::Attack);
                    let is_played = |bar, pass| part.played.iter().any(|b| (b.number, b.pass) == (bar, pass));
                    let attacks = attacks.filter(|count| is_played(count.id.bar, count.id.pass)).enumerate();
                    let attacks = attacks.filter(|(number, _)| (part.round, *number) != left_out);
                    let late = Seconds::from_millis(20);
                    strokes.extend(attacks.map(|(_, count)| part.bar_one + count.at.since_zero() + late));
                }
                Event::Ended { .. } => over = true,
                _ => {}
            }
        }
        if let Some(now) = engine.drill_now() {
            let due: Vec<Moment> = strokes.extract_if(.., |at| *at <= now).collect();
            for at in due {
                let stamp = engine.now() - (now - at);
                engine.send_at("Pad", &[0x99, 38, 90], stamp);
            }
        }
        assert!(engine.now().as_nanos() < 60_000_000_000, "it ends");
    }
    told
}

#[test]
fn a_take_of_a_plan_is_judged_round_by_round() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    for (name, text) in [("first.rhythm", FIRST), ("second.rhythm", SECOND), ("two.drill", FILE)] {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let (plan, take) = (text("two.drill"), text("take"));
    play(Path::new(&take));

    insta::assert_snapshot!(run(["judge", &plan, &take]).done());

    let printed = run(["judge", &plan, &take, "--json"]).done();
    std::fs::write(text("judged.json"), &printed).expect("written");
    python::run("tests/readers/schema.py", ["crates/take/schema", "drill-judge", &text("judged.json")]);
    python::run("tests/readers/schema.py", ["crates/take/schema", "take", &format!("{take}/take.json")]);
    let judged = json(&printed);
    let rounds = judged["rounds"].as_array().expect("rounds");
    let told: Vec<(&str, Option<bool>)> = rounds
        .iter()
        .map(|round| (round["tempo"].as_str().expect("a tempo"), round["good"].as_bool()))
        .collect();
    let expected = [("100", true), ("110", true), ("120", false), ("110", true)];
    let expected = expected.map(|(bpm, good)| (format!("quarter = {bpm}"), Some(good)));
    assert_eq!(told, expected.each_ref().map(|(tempo, good)| (tempo.as_str(), *good)));
    // Every attack stands where the take's own MIDI file has it.
    let attacks = |round: &Value| round["responses"][0]["judgement"]["players"][0]["attacks"].clone();
    let bar = 60_000.0 / 100.0 * 4.0;
    // 250 ms, a bar counted in, a bar called: then the first response, 20 ms late.
    let first = attacks(&rounds[0])[0]["time_ms"].as_f64().expect("a time");
    assert!((first - (250.0 + 2.0 * bar + 20.0)).abs() < 1.0, "{first}");
    let offsets = attacks(&rounds[3]);
    for attack in offsets.as_array().expect("attacks") {
        let offset = attack["offset_ms"].as_f64().expect("an offset");
        assert!((offset - 20.0).abs() < 0.1, "{offset}");
    }

    // A take of rounds is no take of one rhythm, and says what to do.
    let wrong = run(["judge", &text("first.rhythm"), &take]);
    assert_eq!(wrong.status, Some(1));
    assert!(wrong.err.contains("countline judge PLAN.drill TAKE"), "{}", wrong.err);
    let wrong = run(["judge", &plan, &take, "--svg", &text("out.svg")]);
    assert_eq!(wrong.status, Some(2));
    assert!(wrong.err.contains("--svg is for the take of one rhythm"), "{}", wrong.err);
}

/// The rhythm goes in halves from bar 2 on, and its second phrase plays bars again: what is told of a round is how fast it really
/// began and what it really played.
#[test]
fn rounds_of_a_take_are_told_as_they_were_played() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let rhythm = "title: Faster\ntempo: quarter = 100\n\n| 1 2 3 4 |: [quarter = 200] 1 2 3 4 | 1 2 3 4 :|\n";
    std::fs::write(text("faster.rhythm"), rhythm).expect("written");
    let file = "rhythms = [\"faster.rhythm\"]\nbars = 3\n[model]\n[tempo]\nat = 120\n";
    std::fs::write(text("faster.drill"), file).expect("written");
    let material = || {
        let rhythm = rhythm::text::read(rhythm).rhythm.expect("a rhythm");
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    };
    let heard = Heard { model: Some(Audible::ALL), ..Heard::default() };
    let pace = Pace::Steady(Ratio::from_integer(120));
    let plan = DrillPlan { bars: Some(3), heard, pace, ..DrillPlan::default() };
    let drill = sequencer::drill::Drill::new(plan, vec![material()]).expect("a plan");
    let (plan, take) = (text("faster.drill"), text("take"));
    let parts = play_plan(&Planned::new(None, drill), (0, 0), Path::new(&take));
    let mut heard: Vec<String> =
        parts.iter().map(|part| format!("{}, {}", part.entry_tempo, bars_named(&part.played))).collect();
    heard.dedup();
    assert_eq!(
        heard,
        ["quarter = 120, bars 1-3, 2-3 again", "quarter = 120, bars 1-3", "quarter = 240, bars 2-3 again"]
    );

    let told = run(["judge", &plan, &take]).done();
    let told: Vec<&str> = told.lines().filter(|line| line.starts_with("round")).collect();
    assert_eq!(
        told,
        [
            "round 1: quarter = 120, Faster, bars 1-3, 2-3 again: heard only",
            "round 2: quarter = 120, Faster, bars 1-3: good",
            "round 3: quarter = 240, Faster, bars 2-3 again: good",
        ]
    );
    let printed = run(["judge", &plan, &take, "--json"]).done();
    std::fs::write(text("judged.json"), &printed).expect("written");
    python::run("tests/readers/schema.py", ["crates/take/schema", "drill-judge", &text("judged.json")]);
    let last = &json(&printed)["rounds"][2];
    assert_eq!((&last["tempo"], &last["entry_tempo"]), (&"quarter = 120".into(), &"quarter = 240".into()));
    assert_eq!(last["played"], serde_json::json!([{ "bar": 2, "pass": 2 }, { "bar": 3, "pass": 2 }]));
    // As the plan itself has them.
    let planned = json(&run(["drill", &plan, "--json"]).done());
    assert_eq!(planned["rounds"][2]["tempo"], last["entry_tempo"]);
    assert_eq!(planned["rounds"][2]["played"], last["played"]);
}
