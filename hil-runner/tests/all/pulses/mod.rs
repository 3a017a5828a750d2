//! Measurements under pulses on the line, and what became of each: shared by the bench and by a test with few of them.
//!
//! The temperature around the sensors changes before each measurement, from 20 to 60 degC and back, and they follow at
//! once: an old number is 40 degC off. What the rig knows of its sensors is the truth; neither driver nor judge has a
//! say in what counts as right.
#![allow(dead_code)] // bench and test use a part each

use std::fmt::Write as _;

use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{EmulatedChip, Outside, Tracing, open, open_emulated};
use slotwise_record::{Event, Listener};
use slotwise_record::{ReadingOutcome, ReadingRecord, RunEnd, RunOutcome};
use slotwise_rig::Rig;
use slotwise_run::judge::Judge;
use slotwise_run::{Order, execute};
use slotwise_scenario::Scenario;
use slotwise_terms::Stop;

/// How the sensors are powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Power {
    Local,
    Parasite,
}

/// On what the driver runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chip {
    Virtual,
    Emulated,
}

/// One kind of measurement under one kind of pulses.
#[derive(Clone, Copy, Debug)]
pub struct Case {
    pub power: Power,
    pub convert: &'static str,
    pub proof: &'static str,
    pub chip: Chip,
    /// Pulses per second, and their width; none on a quiet line.
    pub noise: Option<(u32, u32)>,
}

/// What became of readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    pub right: u64,
    /// Right, and doubted for all that.
    pub right_doubted: u64,
    /// Wrong, and doubted.
    pub wrong_doubted: u64,
    pub failed: u64,
    /// Wrong and not doubted.
    pub wrong: u64,
    /// Runs that ended early: the rig counted as broken.
    pub broken: u64,
}

impl Tally {
    pub fn accepted(&self) -> u64 {
        self.right + self.wrong
    }

    pub fn all(&self) -> u64 {
        self.accepted() + self.right_doubted + self.wrong_doubted + self.failed
    }

    pub fn add(&mut self, other: &Self) {
        self.right += other.right;
        self.right_doubted += other.right_doubted;
        self.wrong_doubted += other.wrong_doubted;
        self.failed += other.failed;
        self.wrong += other.wrong;
        self.broken += other.broken;
    }
}

/// Half a degree, and the step of the register.
const RIGHT_WITHIN_MILLICELSIUS: i32 = 600;

impl Listener for Tally {
    fn notice(&mut self, event: &Event<'_>) {
        if let Event::Reading { reading, .. } = event {
            self.count(reading);
        }
    }
}

impl Tally {
    fn count(&mut self, reading: &ReadingRecord) {
        let ReadingOutcome::Read(number) = &reading.outcome else {
            self.failed += 1;
            return;
        };
        let truth = reading.rig_millicelsius.expect("the rig knows");
        let off = i32::from(number.sixteenths) * 1_000 / 16 - truth;
        match (off.abs() <= RIGHT_WITHIN_MILLICELSIUS, number.doubts.is_empty()) {
            (true, true) => self.right += 1,
            (true, false) => self.right_doubted += 1,
            (false, true) => self.wrong += 1,
            (false, false) => self.wrong_doubted += 1,
        }
    }
}

/// Invented sensors.
const SENSORS: [(&str, &str); 4] = [
    ("28:3D5C81B20E11:B7", "DS18B20"),
    ("28:A80F6643D912:0B", "DS18B20"),
    ("28:61E7143B8C13:55", "DS18B20"),
    ("10:4F92A10C0800:75", "DS18S20"),
];

fn rig(power: Power) -> Rig {
    let mut text =
        "rig = \"pulses\"\nkind = \"virtual\"\n[line]\nsupply = \"5 V\"\npull_up = \"2.2 kohm\"\ncable = \"5 m\"\n\
                    strong_pull_up = \"10 ohm\"\nambient = \"20 degC\"\n"
            .to_owned();
    let power = match power {
        Power::Local => "local",
        Power::Parasite => "parasite",
    };
    for (number, (rom, part)) in SENSORS.iter().enumerate() {
        let _ = write!(
            text,
            "[[sensor]]\nlabel = \"lead {number}\"\nrom = \"{rom}\"\npart = \"{part}\"\npower = \"{power}\"\n\
             [sensor.virtual]\nconversion = \"{} %\"\n",
            70 + 9 * number
        );
    }
    Rig::parse("pulses.toml", &text).expect("a rig")
}

fn scenario(case: &Case, rounds: u32, rig: &Rig) -> Scenario {
    let mut text = "scenario = \"pulses\"\n".to_owned();
    let step = |text: &mut String, what: &str| {
        let _ = write!(text, "[[step]]\n{what}\n");
    };
    if let Some((per_second, width_us)) = case.noise {
        let noise = format!("inject = {{ noise = {{ rate = \"{per_second} /s\", width = \"{width_us} us\" }} }}");
        step(&mut text, &noise);
    }
    for round in 0..rounds {
        step(
            &mut text,
            if round % 2 == 0 { "ambient = { to = \"60 degC\" }" } else { "ambient = { to = \"20 degC\" }" },
        );
        let measure = format!(
            "measure = {{ convert = \"{}\", proof = \"{}\", near = {{ reference = \"rig\", within = \"0.6 degC\" }} }}",
            case.convert, case.proof
        );
        step(&mut text, &measure);
    }
    Scenario::parse("pulses.toml", &text, rig).expect("a scenario")
}

/// Measures for so many rounds.
pub fn run(case: &Case, seed: u64, rounds: u32) -> Tally {
    let mut tally = Tally::default();
    let end = end_of(case, (seed, Tracing::Off), rounds, &mut tally);
    if end.outcome == RunOutcome::Broken {
        tally.broken += 1;
    }
    tally
}

/// The same on a virtual rig that records its line: how the run ends.
pub fn recorded(case: &Case, seed: u64, rounds: u32) -> RunEnd {
    end_of(case, (seed, Tracing::On), rounds, &mut Tally::default())
}

fn end_of(case: &Case, (seed, tracing): (u64, Tracing), rounds: u32, tally: &mut Tally) -> RunEnd {
    let judge = Judge::new().expect("the tables are sound");
    let rig = rig(case.power);
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let (rig, mut bench) = match case.chip {
        Chip::Virtual => {
            let bench = open(&rig, seed, tracing, outside).expect("a virtual rig");
            (rig, bench)
        }
        Chip::Emulated => {
            let rig = rig.emulated().expect("a rig that can be");
            let line = rig.virtual_line().expect("a rig in virtual time");
            let bench =
                open_emulated(&rig, line, (seed, tracing), EmulatedChip::default(), outside).expect("it comes up");
            (rig, bench)
        }
    };
    let scenario = scenario(case, rounds, &rig);
    let order = Order { rig: &rig, scenario: &scenario, seed, judge: &judge };
    execute(order, bench.as_mut(), &Stop::new(), tally)
}
