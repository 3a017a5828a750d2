//! How a report compares with what is known of a capture. Only the JSON form of a report is read: names are strings
//! here.

use std::collections::BTreeMap;

use serde_json::Value;

use super::faults::{Expected, LeftOut, Truth};

/// What a report says of one fault.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Score {
    /// Not passed as sound.
    pub is_found: bool,
    /// By its topic and its party, and no other party is accused.
    pub is_named: bool,
    /// At its time.
    pub is_timed: bool,
    /// With the sensors whose it is; none if nothing says so.
    pub has_sensors: Option<bool>,
    /// Findings that weigh as faults.
    pub faults: u64,
}

fn text<'a>(of: &'a Value, key: &str) -> &'a str {
    of[key].as_str().unwrap_or_default()
}

fn list<'a>(of: &'a Value, key: &str) -> impl Iterator<Item = &'a Value> {
    of[key].as_array().into_iter().flatten()
}

/// Digits of the ROM codes that a finding names.
fn sensors(finding: &Value) -> Vec<String> {
    let digits = |name: &str| name.chars().filter(char::is_ascii_hexdigit).collect::<String>();
    let mut all: Vec<String> = list(finding, "sensors").filter_map(Value::as_str).map(digits).collect();
    all.sort();
    all
}

/// Compares a report with the truth. `step_ns`: the capture is known no closer.
pub fn score(report: &Value, truth: &Truth, step_ns: u64) -> Score {
    let outcome = text(report, "outcome");
    let faults: Vec<&Value> = list(report, "findings").filter(|of| text(of, "weight") == "fault").collect();
    let at = |from: u64, to: u64| {
        // To within a slot.
        let slack = 2 * step_ns + 150_000;
        from <= truth.at.1 + slack && to + slack >= truth.at.0
    };
    let accuses_others = faults.iter().any(|of| !truth.causes.contains(&text(of, "cause")));
    if truth.expected == Expected::Unjudged {
        let mut named = list(report, "unjudged").filter(|of| truth.topics.contains(&text(of, "what")));
        let named = named.next();
        let is_timed = named.is_some_and(|of| {
            let from = of["from_ns"].as_u64().unwrap_or(0);
            at(from, of["to_ns"].as_u64().unwrap_or(from))
        });
        return Score {
            is_found: outcome == "incomplete",
            is_named: named.is_some() && faults.is_empty(),
            is_timed,
            has_sensors: None,
            faults: faults.len() as u64,
        };
    }
    let weight = if truth.expected == Expected::Fault { "fault" } else { "doubt" };
    let matches = |of: &&Value| {
        text(of, "weight") == weight
            && truth.topics.contains(&text(of, "topic"))
            && truth.causes.contains(&text(of, "cause"))
            && text(of, "text").contains(truth.says)
    };
    let all: Vec<&Value> = list(report, "findings").filter(matches).collect();
    let when = |of: &Value, key: &str| of[key].as_u64().unwrap_or(0);
    let is_timed =
        |of: &&&Value| at(when(of, "at_ns"), when(of, "at_ns")) || at(when(of, "last_ns"), when(of, "last_ns"));
    let timed = all.iter().find(is_timed);
    let best = timed.or(all.first());
    let mut expected = truth.sensors.clone();
    expected.sort();
    Score {
        is_found: match truth.expected {
            Expected::Fault => outcome == "faulty",
            _ => outcome != "sound",
        },
        is_named: !all.is_empty() && !accuses_others,
        is_timed: timed.is_some(),
        has_sensors: (!expected.is_empty()).then(|| best.is_some_and(|of| sensors(of) == expected)),
        faults: faults.len() as u64,
    }
}

/// Sums of a class.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub generated: u64,
    pub found: u64,
    pub named: u64,
    pub timed: u64,
    pub with_sensors: u64,
    pub of_sensors: u64,
    pub faults: u64,
    pub left_out: BTreeMap<LeftOut, u64>,
}

impl Tally {
    pub fn add(&mut self, score: Score) {
        self.generated += 1;
        self.found += u64::from(score.is_found);
        self.named += u64::from(score.is_named);
        self.timed += u64::from(score.is_timed);
        self.of_sensors += u64::from(score.has_sensors.is_some());
        self.with_sensors += u64::from(score.has_sensors == Some(true));
        self.faults += score.faults;
    }

    #[allow(dead_code, reason = "the test has one tally, the bench one for each class")]
    pub fn merge(&mut self, other: &Self) {
        self.generated += other.generated;
        self.found += other.found;
        self.named += other.named;
        self.timed += other.timed;
        self.of_sensors += other.of_sensors;
        self.with_sensors += other.with_sensors;
        self.faults += other.faults;
        for (why, count) in &other.left_out {
            *self.left_out.entry(why).or_default() += count;
        }
    }
}
