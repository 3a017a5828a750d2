//! Files that ask for too much: each bound, with the place and the words of the message.

use super::super::*;
use super::bad::{file, rejects, rejects_file};
use super::rig;
use slotwise_rig::{Rig, Sensor};

#[test]
fn rejects_runs_that_are_too_long() {
    rejects(
        "repeat = { times = 100000, step = [{ repeat = { times = 11, step = [{ find = {} }] } }] }",
        &["day.toml:3:1: expected at most 1000000 steps, repetitions counted, found 1100001"],
    );
    rejects(
        "repeat = { times = 5, step = [{ wait = \"7 d\" }] }",
        &["day.toml:3:1: expected waits and repetitions of at most 31 days in all, found 35 days"],
    );
    let deep = |depth: usize| {
        (0..depth)
            .fold("{ find = {} }".to_owned(), |inner, _| format!("{{ repeat = {{ times = 1, step = [{inner}] }} }}"))
    };
    let file = |depth| format!("scenario = \"a day\"\nstep = [{}]\n", deep(depth));
    assert!(Scenario::parse("day.toml", &file(3), &rig()).is_ok());
    rejects_file(&file(4), &["day.toml:2:116: expected repetitions at most 3 deep, found one more"]);
    let errors = Scenario::parse("day.toml", &file(60), &rig()).unwrap_err().to_string();
    assert!(errors.starts_with("day.toml:2:") && errors.contains("not TOML: cannot recurse further"), "{errors}");
}

/// A rig of so many sensors.
fn crowd(sensors: u64) -> Rig {
    let mut rig = rig();
    let sensor = rig.inventory[0].clone();
    let rom = |number: u64| {
        let mut bytes = [0x28; 8];
        bytes[1..7].copy_from_slice(&number.to_le_bytes()[..6]);
        bytes[7] = slotwise::bus::crc8(&bytes[..7]);
        slotwise::bus::RomCode::new(bytes).unwrap()
    };
    let sensors =
        (1..=sensors).map(|number| Sensor { label: format!("s{number}"), rom: rom(number), ..sensor.clone() });
    rig.inventory = sensors.collect();
    rig
}

#[track_caller]
fn rejects_on(rig: &Rig, text: &str, message: &str) {
    let errors = Scenario::parse("day.toml", text, rig).expect_err("the file asks for too much");
    assert_eq!(errors.to_string(), message);
}

#[test]
fn rejects_more_work_than_takes_minutes() {
    let most = "expected work for at most 2000000 readings of one sensor, repetitions counted";
    let repeated = |times: u32, step: &str| file(&format!("repeat = {{ times = {times}, step = [{{ {step} }}] }}"));
    let crowd = crowd(500);
    let text = repeated(100_000, "find = { times = 1000 }");
    rejects_on(&crowd, &text, &format!("day.toml:3:1: {most}, found 50050001000"));
    assert!(Scenario::parse("day.toml", &repeated(3, "find = { times = 1000 }"), &crowd).is_ok());
    for step in ["measure = {}", "configure = { resolution = 9 }", "alarm_search = { expect = [] }"] {
        assert!(Scenario::parse("day.toml", &repeated(1_000, step), &crowd).is_ok(), "{step}");
        let errors = Scenario::parse("day.toml", &repeated(10_000, step), &crowd).expect_err(step).to_string();
        assert!(errors.starts_with(&format!("day.toml:3:1: {most}, found ")), "{errors}");
    }
    // Rounds that are bounded by time are as many as fit in it.
    let lasting = |lasts: &str, wait: &str| {
        file(&format!("repeat = {{ lasts = \"{lasts}\", step = [{{ measure = {{}} }}, {{ wait = \"{wait}\" }}] }}"))
    };
    assert!(Scenario::parse("day.toml", &lasting("7 d", "10 min"), &crowd).is_ok());
    assert!(Scenario::parse("day.toml", &lasting("7 d", "1 s"), &crowd).is_err());
    assert!(Scenario::parse("day.toml", &lasting("7 d", "1 s"), &rig()).is_ok());
}

#[test]
fn rejects_more_noise_than_can_be_made_in_minutes() {
    let noise = |rate: &str, cleared: &str| {
        let fault = format!("noise = {{ rate = \"{rate}\", width = \"1 us\" }}");
        file(&format!("inject = {{ {fault} }}\n{cleared}\n[[step]]\nwait = \"7 d\""))
    };
    // A week of 100 000 pulses per second.
    rejects_on(
        &rig(),
        &noise("100000 /s", ""),
        "day.toml:6:1: expected work for at most 2000000 readings of one sensor, repetitions counted, found 60480018",
    );
    assert!(Scenario::parse("day.toml", &noise("100 /s", ""), &rig()).is_ok());
    assert!(Scenario::parse("day.toml", &noise("100000 /s", "[[step]]\nclear = \"noise\""), &rig()).is_ok());
    // What begins at the end of a round lasts into the next.
    let step = "{ wait = \"1 h\" }, { inject = { noise = { rate = \"100000 /s\", width = \"1 us\" } } }";
    let text = file(&format!("repeat = {{ times = 100, step = [{step}] }}"));
    assert!(Scenario::parse("day.toml", &text, &rig()).is_err());
}

#[test]
fn rejects_records_that_do_not_fit_in_memory() {
    let most = "expected a record of at most 100000 entries: a reading, each expectation of it, and so on";
    let steps =
        |count: usize, step: &str| format!("scenario = \"a day\"\n{}", format!("[[step]]\n{step}\n").repeat(count));
    rejects_on(&crowd(500), &steps(1_000, "measure = {}"), &format!("day.toml:2000:1: {most}, found 1501000"));
    assert!(Scenario::parse("day.toml", &steps(66, "measure = {}"), &crowd(500)).is_ok());
    assert!(Scenario::parse("day.toml", &steps(67, "measure = {}"), &crowd(500)).is_err());
    assert!(Scenario::parse("day.toml", &steps(1_000, "measure = {}"), &crowd(30)).is_ok());
    let round = format!("repeat = {{ times = 1, step = [{}] }}", "{ measure = {} }, ".repeat(70));
    assert!(Scenario::parse("day.toml", &file(&round), &crowd(500)).is_err());
    assert!(Scenario::parse("day.toml", &file(&round), &crowd(300)).is_ok());
    // Three rounds of it would be too much.
    assert!(Scenario::parse("day.toml", &file(&round.replace("times = 1", "times = 3")), &crowd(300)).is_err());
}

#[test]
fn rejects_scenarios_that_cannot_fail() {
    let rule = "expected a step that expects something: find, configure, holds, measure, fixed_point or alarm_search, found none";
    rejects_file("scenario = \"a day\"\n[[step]]\nwait = \"1 s\"\n", &[&format!("day.toml:2:1: {rule}")]);
    rejects_file(
        "scenario = \"a day\"\n[[step]]\nambient = { to = \"1 degC\" }\n[[step]]\ninject = { short = \"1 ohm\" }\n\
         [[step]]\nclear = \"short\"\n[[step]]\npower_cycle = { off = \"1 s\" }\n[[step]]\n\
         repeat = { times = 2, step = [{ wait = \"1 s\" }] }\n",
        &[&format!("day.toml:2:1: {rule}")],
    );
    let inside = "scenario = \"a day\"\n[[step]]\nrepeat = { times = 2, step = [{ find = {} }] }\n";
    assert!(Scenario::parse("day.toml", inside, &rig()).is_ok());
}

#[test]
fn rejects_too_many_steps() {
    let text = format!("scenario = \"a day\"\n{}", "[[step]]\nfind = {}\n".repeat(1_001));
    rejects_file(&text, &["day.toml:2002:1: expected 1 to 1000 tables [[step]], found 1001"]);
}
