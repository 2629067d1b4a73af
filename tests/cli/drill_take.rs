//! Takes of drill plans: made by the engine without devices, judged by the program.

use std::path::Path;

use live::offline::{Offline, Setup};
use live::{Drill, Event, Planned};
use rhythm::Deed;
use sequencer::drill::{DrillPlan, Material, Pace, SectionKind, Steps, Turns};
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
    let planned = planned();
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let drill = Drill { take: Some(take.to_owned()), ..Drill::of_plan(planned.clone()) };
    engine.start(drill).expect("a drill");
    let mut strokes: Vec<Moment> = Vec::new();
    let mut over = false;
    while !over {
        engine.pass(Seconds::from_millis(1));
        for event in engine.events().try_iter() {
            match event {
                Event::Part(part) => {
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
                    let attacks = attacks.enumerate().filter(|(number, _)| (part.round, *number) != (3, 2));
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
