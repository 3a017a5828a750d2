//! Good files.

use slotwise::thermometer::{AlarmLimits, Doubt, Resolution};

use super::super::*;
use super::rig;
use slotwise_rig::{Fault, FaultKind, built_in_rig};
use slotwise_terms::FailureKind;
use slotwise_terms::input::form::reference::{assert_documented, assert_reachable};

/// The steps of a file that begins with the first of them. One more is added, since something must be expected.
#[track_caller]
fn steps(text: &str) -> Vec<Step> {
    let text = format!("scenario = \"a day\"\n{text}\n[[step]]\nfind = {{}}\n");
    let mut scenario = Scenario::parse("day.toml", &text, &rig()).map_err(|errors| panic!("{errors}")).unwrap();
    scenario.steps.pop();
    scenario.steps
}

/// The action of the only step, which is written like this.
#[track_caller]
fn action(text: &str) -> Action {
    let [step] = steps(&format!("[[step]]\n{text}")).try_into().expect("there is one step");
    step.action
}

/// What a measurement written like this expects.
#[track_caller]
fn expects(text: &str) -> Vec<Expectation> {
    match action(&format!("measure = {{ {text} }}")) {
        Action::Measure(measure) => measure.expect,
        other => panic!("{other:?} is no measurement"),
    }
}

#[test]
fn the_page_describes_each_key_that_is_accepted_and_no_other() {
    assert_reachable(&keys::TOP_SECTION, &keys::SECTIONS);
    assert_documented(include_str!("../../../guide/scenario.md"), &keys::SECTIONS, &[&keys::FAILURES, &keys::DOUBTS]);
}

#[test]
fn reads_name_cautions_and_where_steps_begin() {
    let text = "scenario = \"a day\"\ncautions = [\"mind the mains\"]\n\n[[step]]\nfind = {}\n\n[[step]]\nlabel = \"pause\"\nwait = \"2 s\"\n";
    let scenario = Scenario::parse("day.toml", text, &rig()).unwrap();
    assert_eq!((scenario.name.as_str(), scenario.source.as_str()), ("a day", "day.toml"));
    assert_eq!(scenario.cautions, ["mind the mains"]);
    let seen: Vec<(usize, &str)> = scenario.steps.iter().map(|step| (step.line, step.label.as_str())).collect();
    assert_eq!(seen, [(4, "find all"), (7, "pause")]);
}

#[test]
fn reads_searches() {
    assert_eq!(action("find = {}"), Action::Find { times: 1, expect: vec![0, 1, 2], fails: vec![] });
    assert_eq!(
        action("find = { times = 3, expect = [\"door\", \"upper shelf\"] }"),
        Action::Find { times: 3, expect: vec![0, 2], fails: vec![] }
    );
    assert_eq!(action("find = { expect = \"none\" }"), Action::Find { times: 1, expect: vec![], fails: vec![] });
    assert_eq!(
        action("find = { fails = [\"stuck low\", \"nobody\"] }"),
        Action::Find { times: 1, expect: vec![0, 1, 2], fails: vec![FailureKind::StuckLow, FailureKind::NoPresence] }
    );
    assert_eq!(action("alarm_search = { expect = [] }"), Action::AlarmSearch { expect: vec![] });
    assert_eq!(action("alarm_search = { expect = { except = \"door\" } }"), Action::AlarmSearch { expect: vec![0, 1] });
}

#[test]
fn reads_settings() {
    let configure =
        |resolution, alarm, save| Action::Configure { sensors: vec![0, 1, 2], resolution, alarm, save, fails: vec![] };
    assert_eq!(action("configure = { resolution = 9 }"), configure(Some(Resolution::Bits9), None, Save::No));
    assert_eq!(
        action("configure = { alarm = { low = \"-5 degC\", high = \"16 degC\" }, save = \"if changed\" }"),
        configure(None, Some(AlarmLimits { low: -5, high: 16 }), Save::IfChanged)
    );
    assert_eq!(action("configure = { save = \"unchanged\" }"), configure(None, None, Save::Unchanged));
    assert_eq!(
        action("configure = { sensors = \"door\", save = \"if changed\", fails = \"not taken\" }"),
        Action::Configure {
            sensors: vec![2],
            resolution: None,
            alarm: None,
            save: Save::IfChanged,
            fails: vec![FailureKind::NotTaken]
        }
    );
}

#[test]
fn reads_measurements() {
    assert_eq!(
        action("measure = {}"),
        Action::Measure(Measure {
            sensors: vec![0, 1, 2],
            convert: Convert::Together,
            proof: Proof::Each,
            values: Values::AsRead,
            expect: vec![]
        })
    );
    assert_eq!(
        action("measure = { sensors = \"lower shelf\", convert = \"one by one\", in_time = true }"),
        Action::Measure(Measure {
            sensors: vec![1],
            convert: Convert::OneByOne,
            proof: Proof::Each,
            values: Values::AsRead,
            expect: vec![Expectation::InTime]
        })
    );
    assert_eq!(
        action("measure = { convert = \"not\", doubt = \"power-on value\" }"),
        Action::Measure(Measure {
            sensors: vec![0, 1, 2],
            convert: Convert::Not,
            proof: Proof::Each,
            values: Values::AsRead,
            expect: vec![Expectation::Doubt(Doubt::PowerOnValue)]
        })
    );
}

#[test]
fn reads_expectations() {
    let near = |reference, tolerance_millicelsius| Expectation::Near { reference, tolerance_millicelsius };
    assert_eq!(expects("near = { reference = \"rig\", within = \"0.5 degC\" }"), [near(Reference::Rig, 500)]);
    assert_eq!(
        expects("near = { reference = \"25.0625 degC\", within = \"0 degC\" }"),
        [near(Reference::Value { millicelsius: 25_063 }, 0)]
    );
    assert_eq!(
        expects(
            "near = [{ reference = { sensor = \"door\" }, within = \"1 K\" }, { reference = \"rig\", within = \"2 K\" }]"
        ),
        [near(Reference::Sensor(2), 1_000), near(Reference::Rig, 2_000)]
    );
    assert_eq!(
        expects("agree = \"0.0625 degC\", quantised = true, published = true, in_time = false"),
        [Expectation::Agree { within_millicelsius: 63 }, Expectation::Published, Expectation::Quantised]
    );
    assert_eq!(
        expects("doubt = [\"shared family\", \"out of range\"]"),
        [Expectation::Doubt(Doubt::SharedFamily), Expectation::Doubt(Doubt::OutOfRange)]
    );
    assert_eq!(
        expects("fails = [\"crc\", \"no answer\"], quantised = false"),
        [Expectation::Fails(vec![FailureKind::Crc, FailureKind::NoAnswer])]
    );
}

#[test]
fn reads_what_changes_the_rig() {
    assert_eq!(action("power_cycle = { off = \"2 s\" }"), Action::PowerCycle { off_ms: 2_000 });
    assert_eq!(action("wait = \"1.5 min\""), Action::Wait { ms: 90_000 });
    assert_eq!(
        action("ambient = { to = \"-0.5 degC\" }"),
        Action::Ambient { sensors: vec![0, 1, 2], to_millicelsius: -500 }
    );
    assert_eq!(
        action("ambient = { sensors = [\"door\"], to = \"85 degC\" }"),
        Action::Ambient { sensors: vec![2], to_millicelsius: 85_000 }
    );
}

#[test]
fn reads_every_fault() {
    let fault = |text: &str| match action(&format!("inject = {{ {text} }}")) {
        Action::Inject(fault) => fault,
        other => panic!("{other:?} is no fault"),
    };
    assert_eq!(fault("short = \"10 ohm\""), Fault::Short { ohm: 10 });
    assert_eq!(fault("open = \"behind the master\""), Fault::Open);
    assert_eq!(fault("unplug = [\"door\", \"lower shelf\"]"), Fault::Unplug(vec![1, 2]));
    assert_eq!(fault("noise = { rate = \"200 /s\", width = \"5 us\" }"), Fault::Noise { per_second: 200, width_us: 5 });
    assert_eq!(fault("brown_out = { to = \"1.5 V\", lasts = \"50 ms\" }"), Fault::BrownOut { to_mv: 1_500, ms: 50 });
    assert_eq!(
        fault("slow_sensor = { sensor = \"door\", conversion = \"150 %\" }"),
        Fault::SlowSensor { sensor: 2, permille: 1_500 }
    );
    assert_eq!(fault("pull_up = \"47 kohm\""), Fault::PullUp { ohm: 47_000 });
    assert_eq!(
        fault("bit_errors = { sensor = \"upper shelf\", rate = \"200 ppm\" }"),
        Fault::BitErrors { sensor: 0, ppm: 200 }
    );
}

#[test]
fn reads_what_clears_every_fault() {
    for (word, fault, kind) in [
        ("short", "short = \"1 ohm\"", FaultKind::Short),
        ("open", "open = \"behind the master\"", FaultKind::Open),
        ("unplug", "unplug = \"door\"", FaultKind::Unplug),
        ("noise", "noise = { rate = \"1 /s\", width = \"1 us\" }", FaultKind::Noise),
        ("brown_out", "brown_out = { to = \"1 V\", lasts = \"1 s\" }", FaultKind::BrownOut),
        ("slow_sensor", "slow_sensor = { sensor = \"door\", conversion = \"101 %\" }", FaultKind::SlowSensor),
        ("pull_up", "pull_up = \"1 kohm\"", FaultKind::PullUp),
        ("bit_errors", "bit_errors = { sensor = \"door\", rate = \"1 %\" }", FaultKind::BitErrors),
    ] {
        let steps = steps(&format!("[[step]]\ninject = {{ {fault} }}\n[[step]]\nclear = \"{word}\""));
        assert_eq!(steps[1].action, Action::Clear(kind));
        let Action::Inject(fault) = &steps[0].action else { panic!("the first step injects") };
        assert_eq!(fault.kind(), kind);
    }
}

#[test]
fn reads_repetitions_in_repetitions() {
    let steps = steps(
        "[[step]]\n[step.repeat]\nlasts = \"10 min\"\nmay_fail = \"1 %\"\n[[step.repeat.step]]\nfind = {}\n\
         [[step.repeat.step]]\nrepeat = { times = 2, step = [{ wait = \"1 s\" }] }\n",
    );
    let [Step { action: Action::Repeat { bound, max_failures_ppm, steps }, line, .. }] = steps.as_slice() else {
        panic!("one repetition")
    };
    assert_eq!((*bound, *max_failures_ppm, *line), (Bound::ForMs(600_000), 10_000, 2));
    assert_eq!((steps[0].line, steps[1].line), (6, 8));
    let Action::Repeat { bound, max_failures_ppm, steps } = &steps[1].action else { panic!("a repetition inside") };
    assert_eq!((*bound, *max_failures_ppm, steps.len()), (Bound::Times(2), 0, 1));
}

#[test]
fn steps_without_a_label_say_what_they_do() {
    let says = |text: &str| steps(&format!("[[step]]\n{text}"))[0].label.clone();
    assert_eq!(says("find = { times = 3 }"), "find all, 3 times");
    assert_eq!(says("find = { fails = \"nobody\" }"), "find sensors, in vain");
    assert_eq!(
        says("configure = { resolution = 9, alarm = { low = \"1 degC\", high = \"2 degC\" }, save = \"if changed\" }"),
        "configure all: 9 bits, alarm at 1 and 2 degC, saved"
    );
    assert_eq!(
        says("measure = { sensors = { except = \"door\" }, convert = \"one by one\" }"),
        "measure upper shelf and lower shelf, one by one"
    );
    assert_eq!(says("alarm_search = { expect = \"none\" }"), "alarm search: none");
    assert_eq!(says("power_cycle = { off = \"90 s\" }"), "power off for 1.5 min");
    assert_eq!(says("ambient = { to = \"25.0625 degC\" }"), "25.063 degC around all");
    assert_eq!(says("inject = { unplug = \"door\" }"), "inject unplugging: door");
    assert_eq!(says("inject = { pull_up = \"47 kohm\" }"), "inject pull-up of 47 kohm");
    assert_eq!(says("wait = \"2 min\""), "wait 2 min");
    assert_eq!(says("repeat = { times = 10, step = [{ find = {} }] }"), "repeat 1 step 10 times");
    assert_eq!(
        says("repeat = { lasts = \"1 h\", step = [{ find = {} }, { wait = \"1 s\" }] }"),
        "repeat 2 steps for 1 h"
    );
}

#[test]
fn words_of_files_are_those_of_records() {
    fn written<T: serde::Serialize>(value: T) -> String {
        serde_json::to_value(value).unwrap().as_str().unwrap().to_owned()
    }
    let record = |word: &str| word.replace([' ', '_'], "-");
    let failures: Vec<String> = keys::FAILURES.words().into_iter().map(record).collect();
    assert_eq!(failures, words::FAILURES.map(written));
    let doubts: Vec<String> = keys::DOUBTS.words().into_iter().map(record).collect();
    assert_eq!(doubts, Doubt::ALL.map(written));
    let kinds: Vec<String> = keys::INJECT_SECTION.names().into_iter().map(record).collect();
    assert_eq!(kinds, fault::KINDS.map(written));
    let slotwise_terms::input::form::Form::Word(cleared) = keys::CLEAR.form else { panic!("clear is a word") };
    assert_eq!(cleared, keys::INJECT_SECTION.names());
}

#[test]
fn every_built_in_scenario_fits_its_rig() {
    for name in BUILT_IN_SCENARIOS {
        let rig = built_in_rig(name).or_else(|| built_in_rig("cellar")).unwrap();
        let scenario = built_in_scenario(name, &rig).unwrap().map_err(|errors| panic!("{errors}")).unwrap();
        assert_eq!(scenario.source, format!("<{name}>"));
        assert!(!scenario.cautions.is_empty(), "{name} has no cautions");
        assert!(built_in_scenario_text(name).is_some());
    }
    assert!(built_in_scenario("attic", &rig()).is_none());
    assert!(built_in_scenario("cellar", &rig()).unwrap().is_err(), "the shed has no brine bath");
}

#[test]
fn the_cellar_can_be_broken_as_its_comments_say() {
    let text = built_in_scenario_text("cellar").unwrap();
    let rig = built_in_rig("cellar").unwrap();
    for (label, broken) in [
        ("the brine bath is pulled out", Fault::Unplug(vec![4])),
        ("the wrong resistor is fitted", Fault::PullUp { ohm: 47_000 }),
    ] {
        let commented = format!("# label = \"{label}\"\n");
        let at = text.find(&commented).expect("the comment is there");
        let start = text[..at].rfind("# [[step]]").unwrap();
        let end = at + commented.len() + text[at + commented.len()..].find('\n').unwrap();
        let tried = text[..start].to_owned() + &text[start..end].replace("# ", "") + &text[end..];
        let scenario = Scenario::parse("copy.toml", &tried, &rig).unwrap();
        let step = scenario.steps.iter().find(|step| step.label == label).expect("the step is there");
        assert_eq!(step.action, Action::Inject(broken));
    }
}

#[test]
fn the_cellar_visits_the_published_points_of_table_1() {
    // DS18B20 datasheet (7/19), Table 1, in thousandths of a degree, sixteenths rounded half away from zero.
    let mut wanted = [125_000, 85_000, 25_063, 10_125, 500, 0, -500, -10_125, -25_063, -55_000];
    let scenario = built_in_scenario("cellar", &built_in_rig("cellar").unwrap()).unwrap().unwrap();
    let mut visited: Vec<i32> = Vec::new();
    for step in &scenario.steps {
        if let Action::Measure(Measure { expect, .. }) = &step.action
            && expect.contains(&Expectation::Published)
        {
            visited.extend(expect.iter().filter_map(|expectation| match expectation {
                Expectation::Near { reference: Reference::Value { millicelsius }, tolerance_millicelsius: 0 } => {
                    Some(*millicelsius)
                }
                _ => None,
            }));
        }
    }
    visited.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(visited, wanted);
}

#[test]
fn the_faults_scenario_injects_and_clears_every_kind() {
    let scenario = built_in_scenario("faults", &built_in_rig("cellar").unwrap()).unwrap().unwrap();
    for kind in fault::KINDS {
        let injected = scenario.steps.iter().position(|step| match &step.action {
            Action::Inject(fault) => fault.kind() == kind,
            _ => false,
        });
        let cleared = scenario.steps.iter().position(|step| step.action == Action::Clear(kind));
        assert!(injected.is_some() && injected < cleared, "{kind:?}");
    }
}

#[test]
fn the_scenario_for_the_template_suits_it() {
    let text = include_str!("../../../../fixtures/rigs/bench.toml");
    // Whatever the sensors are called: they are the first thing that everybody changes.
    let rig = slotwise_rig::Rig::parse("bench.toml", &text.replace("upper shelf", "porch,")).unwrap();
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../fixtures/scenarios/bench.toml");
    let scenario = Scenario::load(std::path::Path::new(path), &rig).unwrap();
    assert!(scenario.steps.len() > 4);
}
