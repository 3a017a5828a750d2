//! How often quiet nights raise a false alarm, and how soon seeded regressions are found:
//! `cargo bench -p hil-runner --bench regressions`.
//!
//! Each simulated rig has eight sensors with the scatter of a real one: the clocks of sensors wander by 0.3 % from
//! night to night, their distances from each other by 0.02 degC, the rise time by 2 %, and one reading of a thousand
//! fails. Quiet nights come in three kinds: normal scatter, scatter with heavy tails (Student's t with 4 degrees of
//! freedom), and scatter that remembers (half of last night's deviation stays). All randomness has a fixed seed.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Binomial, Distribution, StandardNormal, StudentT};
use slotwise::bus::RomCode;
use slotwise_history::regression::{Memory, Names, Observed};
use slotwise_past::{Figure, FigureKind, FigureSubject};
use slotwise_record::StepOutcome;

const SENSORS: u8 = 8;
const STEPS: usize = 50;
/// Readings of a sensor in a night.
const READINGS: u64 = 40;
const FAILING: f64 = 0.001;

/// How what is measured scatters from night to night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Scatter {
    Normal,
    HeavyTails,
    Remembers,
}

/// What breaks, and on which night.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Broken {
    Nothing,
    /// A step fails from then on.
    Step,
    /// The conversion time of a sensor moves at once, by this share.
    Conversion(f64),
    /// The rise time moves at once, by this share.
    Rise(f64),
    /// A sensor moves away from its neighbours, by so many degrees a night.
    Drift(f64),
    /// A sensor is gone.
    Gone,
    /// Of the readings of one sensor this share fails.
    Errors(f64),
    /// The firmware grows by this share.
    Grown(f64),
}

struct Rig {
    random: ChaCha8Rng,
    scatter: Scatter,
    /// Deviation of each measured value last night, in standard deviations.
    last: Vec<f64>,
}

impl Rig {
    fn new(seed: u64, scatter: Scatter) -> Self {
        Self { random: ChaCha8Rng::seed_from_u64(seed), scatter, last: vec![0.0; 64] }
    }

    /// A deviation of unit variance.
    fn deviation(&mut self, place: usize) -> f64 {
        let normal: f64 = StandardNormal.sample(&mut self.random);
        let deviation = match self.scatter {
            Scatter::Normal => normal,
            // Student's t with 4 degrees of freedom has a variance of 2.
            Scatter::HeavyTails => {
                StudentT::new(4.0).expect("a good number").sample(&mut self.random) / std::f64::consts::SQRT_2
            }
            Scatter::Remembers => 0.5 * self.last[place] + 0.75_f64.sqrt() * normal,
        };
        self.last[place] = deviation;
        deviation
    }

    fn failures(&mut self, share: f64) -> f64 {
        Binomial::new(READINGS, share).expect("a share").sample(&mut self.random) as f64
    }

    fn night(&mut self, broken: Broken, since: Option<u32>) -> Observed {
        let mut figures = Vec::new();
        let mut push = |kind, subject, value, of, grain| figures.push(Figure { kind, subject, value, of, grain });
        for number in 0..SENSORS {
            let is_it = since.is_some() && number == 0;
            let rom = rom(number);
            let conversion = match broken {
                Broken::Conversion(share) if is_it => 1.0 + share,
                _ => 1.0,
            };
            let drift = match (broken, since) {
                (Broken::Drift(each), Some(nights)) if is_it => each * 1000.0 * f64::from(nights + 1),
                _ => 0.0,
            };
            let failing = match broken {
                Broken::Errors(share) if is_it => share,
                _ => FAILING,
            };
            let place = usize::from(number);
            let busy_us = 600_000.0 * conversion * (1.0 + 0.003 * self.deviation(place));
            let subject = FigureSubject::Sensor { rom, bits: Some(12) };
            push(FigureKind::ConversionTime, subject, busy_us, READINGS, 100.0);
            let distance = 10.0 * f64::from(number) + drift + 20.0 * self.deviation(16 + place);
            push(FigureKind::FromNeighbours, FigureSubject::sensor(rom), distance, READINGS, 0.0);
            push(FigureKind::FailedReadings, FigureSubject::sensor(rom), self.failures(failing), READINGS, 0.0);
            if !(is_it && broken == Broken::Gone) {
                push(FigureKind::Found, FigureSubject::sensor(rom), 20.0, 20, 0.0);
            }
        }
        let rise = match broken {
            Broken::Rise(share) if since.is_some() => 1.0 + share,
            _ => 1.0,
        };
        let whole = FigureSubject::Whole;
        push(FigureKind::RiseTime, whole.clone(), 3_300.0 * rise * (1.0 + 0.02 * self.deviation(32)), 50, 60.0);
        push(FigureKind::PresenceDelay, whole.clone(), 28_000.0 * (1.0 + 0.005 * self.deviation(33)), 50, 600.0);
        push(FigureKind::PresenceWidth, whole.clone(), 118_000.0 * (1.0 + 0.005 * self.deviation(34)), 50, 600.0);
        push(FigureKind::RepeatedRequests, whole.clone(), 0.0, 400, 0.0);
        let flash = match broken {
            Broken::Grown(share) if since.is_some() => 38_700.0 * (1.0 + share),
            _ => 38_700.0,
        };
        push(FigureKind::Flash, whole, flash.round(), 1, 0.0);
        let steps = (0..STEPS).map(|step| {
            let fails = broken == Broken::Step && since.is_some() && step == 7;
            (format!("step {step}"), if fails { StepOutcome::Failed } else { StepOutcome::Passed })
        });
        Observed { figures, steps: steps.collect() }
    }
}

/// The ROM code of a sensor: of all check bytes one is right.
fn rom(number: u8) -> RomCode {
    let code = (0..=u8::MAX).find_map(|crc| RomCode::new([0x28, number, 0, 0, 0, 0, 1, crc]).ok());
    code.expect("every code has a check byte")
}

/// False alarms per hundred nights: each that was new.
fn false_alarms(scatter: Scatter, rigs: u64, nights: u32) -> f64 {
    let mut alarms = 0;
    for seed in 0..rigs {
        let mut rig = Rig::new(seed, scatter);
        let mut memory = Memory::default();
        for _ in 0..nights {
            let found = memory.next(rig.night(Broken::Nothing, None), &Names::default());
            alarms += found.iter().filter(|(_, is_new)| *is_new).count();
        }
    }
    100.0 * alarms as f64 / (rigs * u64::from(nights)) as f64
}

/// Shares of rigs on which it was found: on the night, within a week, within 30 nights.
fn found(broken: Broken, quiet: u32, rigs: u64) -> [f64; 3] {
    let mut within = [0_u64; 3];
    for seed in 0..rigs {
        let mut rig = Rig::new(1_000_000 + seed, Scatter::Normal);
        let mut memory = Memory::default();
        for _ in 0..quiet {
            memory.next(rig.night(broken, None), &Names::default());
        }
        let first = (0..30).find(|since| {
            let found = memory.next(rig.night(broken, Some(*since)), &Names::default());
            found.iter().any(|(finding, is_new)| *is_new && is_about(&finding.text, broken))
        });
        for (count, nights) in within.iter_mut().zip([1, 7, 30]) {
            *count += u64::from(first.is_some_and(|night| night < nights));
        }
    }
    within.map(|count| 100.0 * count as f64 / rigs as f64)
}

/// Whether the text names what is broken. A false alarm about something else is none of it.
fn is_about(text: &str, broken: Broken) -> bool {
    let first = rom(0).to_string();
    match broken {
        Broken::Nothing => false,
        Broken::Step => text.contains("\"step 7\""),
        Broken::Conversion(_) => text.contains(&first) && text.contains("conversion time"),
        Broken::Rise(_) => text.starts_with("rise time"),
        Broken::Drift(_) => text.contains(&first) && text.contains("neighbours"),
        Broken::Gone => text.contains(&first) && text.contains("gone"),
        Broken::Errors(_) => text.contains(&first) && text.contains("failed readings"),
        Broken::Grown(_) => text.contains("flash"),
    }
}

fn main() {
    let (rigs, nights) = (200, 100);
    println!("false alarms per hundred quiet nights, {rigs} rigs of {SENSORS} sensors, {nights} nights each:");
    for scatter in [Scatter::Normal, Scatter::HeavyTails, Scatter::Remembers] {
        println!("  {:<12} {:.2}", format!("{scatter:?}"), false_alarms(scatter, rigs, nights));
    }
    let rigs = 200;
    println!("\nfound of {rigs} seeded regressions, in per cent: on the night, within 7 nights, within 30");
    println!("  {:<50} {:>26} {:>26}", "", "after 10 quiet nights", "after 30 quiet nights");
    for (what, broken) in [
        ("a step that fails", Broken::Step),
        ("a sensor that is gone", Broken::Gone),
        ("conversion time of a sensor +3 %", Broken::Conversion(0.03)),
        ("conversion time of a sensor +5 %", Broken::Conversion(0.05)),
        ("rise time +15 %", Broken::Rise(0.15)),
        ("rise time +30 %", Broken::Rise(0.30)),
        ("a sensor drifts by 0.01 degC a night", Broken::Drift(0.01)),
        ("a sensor drifts by 0.2 degC at once", Broken::Drift(0.2)),
        ("5 % of the readings of a sensor fail", Broken::Errors(0.05)),
        ("20 % of the readings of a sensor fail", Broken::Errors(0.20)),
        ("flash of the firmware +2 %", Broken::Grown(0.02)),
    ] {
        let text = |[night, week, month]: [f64; 3]| format!("{night:>7.1} {week:>7.1} {month:>7.1}");
        println!("  {what:<50} {:>26} {:>26}", text(found(broken, 10, rigs)), text(found(broken, 30, rigs)));
    }
}
