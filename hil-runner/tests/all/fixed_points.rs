//! `hil-runner run` at fixed points, corrections that go into a rig file, and corrected readings, from end to end.

use crate::common::{Bench, call, read, scenario};
use serde_json::Value;
use slotwise_record::{BathState, Record, StepData, StepOutcome};
use slotwise_rig::{Rig, built_in_rig_text};

const ICE: &str = "fixed_point = { at = \"ice point\" }";
/// One step of 12 bits is 0.0625 degC; noise of 0.02 to 0.04 degC carries the mean of some 20 readings to well within
/// it.
const BOUND_MILLICELSIUS: i32 = 63;

/// A copy of the cellar's rig file.
fn cellar(bench: &Bench) -> String {
    bench.file("rig.toml", built_in_rig_text("cellar").expect("the cellar is built in"))
}

fn rig(bench: &Bench) -> Rig {
    Rig::load(&bench.path("rig.toml")).expect("a rig")
}

#[test]
fn offsets_of_the_cellar_come_out_as_corrections_and_nothing_else_changes() {
    let bench = Bench::new();
    let file = cellar(&bench);
    let run = call(&["run", "ice-point", "--rig", &file, "--store-corrections", "--seed", "11"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    assert!(run.out.contains("8 corrections written to "), "{}", run.out);
    let rig = rig(&bench);
    for sensor in &rig.inventory {
        let correction = sensor.correction.as_ref().expect("each has one");
        let off = correction.millicelsius + sensor.behaviour.offset_millicelsius;
        assert!(off.abs() <= BOUND_MILLICELSIUS, "{}: {correction:?}", sensor.label);
        assert_eq!(correction.at.as_deref(), Some("ice point"));
    }
    let text = read(&bench.path("rig.toml"));
    let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with("correct")).collect();
    assert_eq!(kept, built_in_rig_text("cellar").unwrap().lines().collect::<Vec<_>>());

    // Corrected, every sensor is nearer to the truth than its offset, and the record has both numbers.
    let text = scenario(&["measure = { corrected = true, near = { reference = \"rig\", within = \"0.2 degC\" } }"]);
    let measure = bench.file("corrected.toml", &text);
    let run = call(&["run", &measure, "--rig", &file, "--seed", "11", "--tables", "--out", &bench.name("out")]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    assert_eq!(run.out.matches(" degC corrected by ").count(), 16, "in both tables: {}", run.out);
    let record: Value = serde_json::from_str(&read(&bench.path("out/record.json"))).unwrap();
    let reading = &record["steps"][0]["data"]["readings"][0]["outcome"]["read"];
    let raw = reading["celsius"].as_f64().unwrap() * 1e3;
    let (by, corrected) = (&reading["correction_millicelsius"], &reading["corrected_millicelsius"]);
    assert!((raw + by.as_f64().unwrap() - corrected.as_f64().unwrap()).abs() <= 0.5, "{reading}");
    let near = record["steps"][0]["verdicts"].as_array().unwrap().iter().find(|verdict| verdict["check"] == "near");
    assert!(near.unwrap()["source"].as_str().unwrap().contains(" by the rig file (ice point, "), "{near:?}");
}

#[test]
fn cautions_stand_before_the_step_in_every_report() {
    let bench = Bench::new();
    let run = call(&["run", "steam-point", "--seed", "3", "--out", &bench.name("out")]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    let caution = "Steam and boiling water scald, and steam is not seen";
    let (caution_at, step_at) = (run.out.find(&format!("CAUTION  {caution}")), run.out.find("passed   3 in steam"));
    assert!(caution_at.is_some() && caution_at < step_at, "{}", run.out);
    let record: Record = serde_json::from_str(&read(&bench.path("out/record.json"))).unwrap();
    assert!(record.steps[2].cautions[0].starts_with(caution));
    let xml = read(&bench.path("out/junit.xml"));
    let document = roxmltree::Document::parse(&xml).unwrap();
    let is_caution = |node: roxmltree::Node<'_, '_>| {
        node.attribute("name") == Some("caution")
            && node.attribute("value").is_some_and(|text| text.starts_with(caution))
    };
    assert!(document.descendants().any(is_caution), "{xml}");
    assert!(read(&bench.path("out/report.html")).contains(caution));
}

#[test]
fn steam_without_a_caution_of_its_own_gets_ours_first_of_all() {
    let bench = Bench::new();
    let step = "fixed_point = { at = \"steam point\", pressure = \"985 hPa\", sensors = \"brine bath\" }";
    let run = call(&["run", &bench.file("steam.toml", &scenario(&[step])), "--seed", "3"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    let first = run.out.find("caution   Steam and boiling water scald").expect("the caution precedes the run");
    assert!(first < run.out.find("passed   1 ").unwrap(), "{}", run.out);
}

#[test]
fn an_unstable_bath_fails_and_stores_nothing() {
    let bench = Bench::new();
    let text = built_in_rig_text("cellar").unwrap();
    let file = bench.file("rig.toml", &text.replacen("noise = \"0.02 degC\"", "noise = \"0.5 degC\"", 1));
    let before = read(&bench.path("rig.toml"));
    let ice = bench.file("ice.toml", &scenario(&[ICE]));
    let out = bench.name("out");
    let run = call(&["run", &ice, "--rig", &file, "--store-corrections", "--seed", "3", "--out", &out]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert!(run.out.contains("NOT MET: stability: expected a stable bath"), "{}", run.out);
    assert!(run.out.contains("hint: stir the bath gently"), "{}", run.out);
    assert!(run.out.contains("no correction is stored: none was measured in a stable ice bath"), "{}", run.out);
    assert_eq!(read(&bench.path("rig.toml")), before);
    let record: Record = serde_json::from_str(&read(&bench.path("out/record.json"))).unwrap();
    let StepData::Readings { fixed_point: Some(found), .. } = &record.steps[0].data else { panic!("a fixed point") };
    assert_eq!((record.steps[0].outcome, found.bath), (StepOutcome::Failed, BathState::NotStable));
}

#[test]
fn a_defective_sensor_gets_no_correction_and_the_others_do() {
    let bench = Bench::new();
    let text = built_in_rig_text("cellar").unwrap();
    let file = bench.file("rig.toml", &text.replacen("offset = \"0.11 degC\"", "offset = \"0.9 degC\"", 1));
    let ice = bench.file("ice.toml", &scenario(&[ICE]));
    let run = call(&["run", &ice, "--rig", &file, "--store-corrections", "--seed", "3"]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert!(run.err.contains("error: no correction of middle shelf is stored: it would be -0."), "{}", run.err);
    assert!(run.err.contains("0.5 degC from -10 to 85 degC): such a sensor is defective"), "{}", run.err);
    let rig = rig(&bench);
    let without: Vec<&str> =
        rig.inventory.iter().filter(|sensor| sensor.correction.is_none()).map(|sensor| &*sensor.label).collect();
    assert_eq!(without, ["middle shelf"]);
}

#[test]
fn nine_bits_are_not_enough_for_a_correction() {
    let bench = Bench::new();
    let file = cellar(&bench);
    let steps = ["configure = { sensors = \"brine bath\", resolution = 9 }", ICE];
    let ice = bench.file("ice.toml", &scenario(&steps));
    let run = call(&["run", &ice, "--rig", &file, "--store-corrections", "--seed", "3"]);
    assert_eq!(run.code, Some(1), "{}{}", run.out, run.err);
    assert!(run.err.contains("no correction of brine bath is stored: it was read with 9 bits"), "{}", run.err);
    assert!(run.out.contains("7 corrections written to "), "{}", run.out);
}

#[test]
fn what_cannot_be_stored_is_refused_before_anything_runs() {
    let bench = Bench::new();
    let file = cellar(&bench);
    let before = read(&bench.path("rig.toml"));
    let plain = bench.file("plain.toml", &scenario(&["find = {}"]));
    let steam = "fixed_point = { at = \"steam point\", pressure = \"985 hPa\", sensors = \"door\" }";
    let corrected = bench.file("corrected.toml", &scenario(&["measure = { corrected = true }"]));
    let run = call(&["run", &corrected, "--rig", &file]);
    assert_eq!(run.code, Some(2), "{}{}", run.out, run.err);
    assert!(
        run.err.contains("found none for \"upper shelf left\", ") && run.err.contains(" and 4 more"),
        "{}",
        run.err
    );
    let steam = bench.file("steam.toml", &scenario(&[steam]));
    let ice = bench.file("ice.toml", &scenario(&[ICE]));
    for (scenarios, rig, why) in [
        (vec!["ice-point"], None, "a built-in rig has none"),
        (vec!["ice-point"], Some("cellar"), "a built-in rig has none"),
        (vec!["ice-point"], Some("emulated"), "a built-in rig has none"),
        (vec![&*plain], Some(&*file), "needs a step fixed_point"),
        (vec![&*steam], Some(&*file), "only the ice point stores a correction"),
        (vec![&*ice, &*ice], Some(&*file), "one scenario at a time"),
    ] {
        let rig = rig.map(|rig| vec!["--rig", rig]).unwrap_or_default();
        let run = call(&[&["run", "--store-corrections"][..], &scenarios, &rig].concat());
        assert_eq!((run.code, &*run.out), (Some(2), ""), "{why}: {}", run.err);
        assert!(run.err.contains(why), "{why}: {}", run.err);
    }
    assert_eq!(read(&bench.path("rig.toml")), before);
}

#[test]
fn corrected_readings_show_the_raw_reading_and_name_sensors_without_a_correction() {
    let bench = Bench::new();
    let rig = bench.rig("label = \"brine bath\"\n", "label = \"brine bath\"\ncorrection = \"-0.08 degC\"\n");
    let run = call(&["read", "brine bath", "door", "--rig", &rig, "--corrected", "--seed", "5"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    let lines: Vec<&str> = run.out.lines().collect();
    assert!(lines[0].contains(" degC corrected by -0.080 from 1"), "{}", run.out);
    assert!(lines[1].ends_with("as read: the rig file has no correction"), "{}", run.out);
    let plain = call(&["read", "brine bath", "--rig", &rig, "--seed", "5"]);
    assert!(!plain.out.contains("corrected"), "{}", plain.out);

    let json = call(&["read", "brine bath", "door", "--rig", &rig, "--corrected", "--seed", "5", "--json"]);
    let value: Value = serde_json::from_str(&json.out).unwrap();
    let [bath, door] = [0, 1].map(|place: usize| value["readings"][place]["seen"]["read"].clone());
    assert_eq!(bath["correction_millicelsius"], -80);
    let sixteenths = bath["sixteenths"].as_f64().unwrap();
    assert!((sixteenths * 62.5 - 80.0 - bath["corrected_millicelsius"].as_f64().unwrap()).abs() <= 0.5, "{bath}");
    assert!(door.get("correction_millicelsius").is_none() && door["sixteenths"].is_i64(), "{door}");

    let scan = call(&["scan", "--rig", &rig, "--corrected", "--seed", "5"]);
    assert_eq!(scan.code, Some(0), "{}{}", scan.out, scan.err);
    assert_eq!(scan.out.matches(" corrected by -0.080 from ").count(), 1, "{}", scan.out);
    assert_eq!(scan.out.matches("as read: the rig file has no correction").count(), 7, "{}", scan.out);
}

#[test]
fn a_record_from_before_corrections_can_still_be_read() {
    let bench = Bench::new();
    let file = bench.file("plain.toml", &scenario(&["measure = {}"]));
    assert_eq!(call(&["run", &file, "--seed", "5", "--out", &bench.name("out")]).code, Some(0));
    let text = read(&bench.path("out/record.json"));
    let now: Record = serde_json::from_str(&text).unwrap();
    let mut old: Value = serde_json::from_str(&text).unwrap();
    for sensor in old["rig"]["inventory"].as_array_mut().unwrap() {
        assert!(sensor.as_object_mut().unwrap().remove("correction").is_some());
    }
    assert!(old["scenario"]["steps"][0]["action"]["measure"].as_object_mut().unwrap().remove("values").is_some());
    assert_eq!(serde_json::from_value::<Record>(old).unwrap(), now);
}
