//! How often `identify` names the sensor in the hand, another one, or none:
//! `cargo bench -p hil-runner --bench identify`.
//!
//! First whole rigs in virtual time, with a simulated hand whose choice the judge does not get: the cellar with its
//! eight sensors, and the same with all of them at 9 bits. Then the judge alone, with invented readings of noise that
//! is not as it assumes. Each watch lasts two minutes. All randomness has a fixed seed.

use std::ops::ControlFlow;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, StudentT};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_rig::{Rig, built_in_rig_text};
use slotwise_study::gather;
use slotwise_study::identify::{Outcome, Reading, Rules, Search, SimulatedHand, State, Watch, seek};

const RIGS: u64 = 1000;
const WATCHES: u64 = 10_000;
const SECOND_NS: u64 = 1_000_000_000;

fn main() {
    let cellar = built_in_rig_text("cellar").expect("it is built in");
    let nine_bits = cellar.replace("noise = ", "resolution = 9\nnoise = ");
    // A DS18S20 has no resolution to choose.
    let nine_bits = nine_bits.replace("offset = \"0.10 degC\"\nresolution = 9\n", "offset = \"0.10 degC\"\n");
    println!("{RIGS} rigs each, of eight sensors on a line:");
    for (name, text) in [("cellar", cellar), ("cellar at 9 bits", &nine_bits)] {
        let rig = Rig::parse(name, text).expect("a good file");
        for (what, doing) in [("one hand", Doing::OneHand), ("no hand", Doing::NoHand), ("two hands", Doing::TwoHands)]
        {
            report(&format!("{name}, {what}"), &whole_rigs(&rig, doing, 0.0));
        }
        report(&format!("{name}, no hand, 1 degC a minute in all of it"), &whole_rigs(&rig, Doing::NoHand, 1.0));
        report(&format!("{name}, one hand, 1 degC a minute in all of it"), &whole_rigs(&rig, Doing::OneHand, 1.0));
    }
    println!("{WATCHES} watches each of eight invented sensors at 12 bits, none moves:");
    for (name, scatter) in [
        ("normal, 0.03 degC", Scatter::Normal(0.03)),
        ("normal, 0.3 degC", Scatter::Normal(0.3)),
        ("heavy tails (Student's t, 3 degrees of freedom, 0.1 degC)", Scatter::HeavyTails(0.1)),
        ("wanders, 0.1 degC within 20 s", Scatter::Wanders { deviation: 0.1, within_s: 20.0 }),
        ("wanders, 0.3 degC within 20 s", Scatter::Wanders { deviation: 0.3, within_s: 20.0 }),
        ("wanders, 0.3 degC within 60 s", Scatter::Wanders { deviation: 0.3, within_s: 60.0 }),
    ] {
        let named = (0..WATCHES).filter(|seed| names_a_sensor(*seed, scatter)).count();
        println!("  {name:62} {named:5} named");
    }
}

/// Outcomes over many rigs.
#[derive(Debug, Default)]
struct Tally {
    right: u64,
    wrong: u64,
    none: u64,
    after_s: Vec<f64>,
}

fn report(name: &str, tally: &Tally) {
    let mut after_s = tally.after_s.clone();
    after_s.sort_by(f64::total_cmp);
    let time = match (after_s.get(after_s.len() / 2), after_s.last()) {
        (Some(median), Some(most)) => format!("; after {median:.1} s (median), {most:.1} s (most)"),
        _ => String::new(),
    };
    println!("  {name:48} {:5} right, {:3} wrong, {:5} none{time}", tally.right, tally.wrong, tally.none);
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    OneHand,
    NoHand,
    TwoHands,
}

fn whole_rigs(rig: &Rig, doing: Doing, celsius_per_minute: f64) -> Tally {
    let mut tally = Tally::default();
    for seed in 0..RIGS {
        let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
        let mut bench = open(rig, seed, Tracing::Off, outside).expect("a virtual rig");
        let members = gather(bench.as_mut(), rig).expect("a sound line").members;
        let count = rig.inventory.len() as u64;
        let pair = [seed % count, (seed + 1 + seed / count % (count - 1)) % count];
        let turns = match doing {
            Doing::OneHand => None,
            Doing::NoHand => Some(vec![]),
            Doing::TwoHands => Some(vec![pair.map(|place| usize::try_from(place).expect("a place")).to_vec()]),
        };
        let mut hand = match turns {
            None => SimulatedHand::by_seed(rig, seed),
            Some(turns) => SimulatedHand::in_turn(rig, seed, turns),
        }
        .expect("a virtual rig");
        let search = Search { members: &members, rules: Rules::default(), limit: Rules::LIMIT, hand: Some(&mut hand) };
        let mut drifting = Drifting { bench: bench.as_mut(), rig, celsius_per_minute };
        match drifting.seek(search) {
            Outcome::Found(found) => {
                // Letting go takes the hand a second, so `held` still names the sensor it held.
                let named = members[found.sensor].sensor.rom;
                let held: Vec<_> = hand.held().iter().map(|place| rig.inventory[*place].rom).collect();
                if held == [named] {
                    tally.right += 1;
                    tally.after_s.push(found.after_ns as f64 / 1e9);
                } else {
                    tally.wrong += 1;
                }
            }
            Outcome::Missed { .. } | Outcome::Ended => tally.none += 1,
        }
    }
    tally
}

/// A rig in a room that becomes warmer.
struct Drifting<'a> {
    bench: &'a mut dyn Bench,
    rig: &'a Rig,
    celsius_per_minute: f64,
}

impl Drifting<'_> {
    fn seek(&mut self, mut search: Search<'_>) -> Outcome {
        if self.celsius_per_minute == 0.0 {
            return seek(self.bench, search, &mut |_| ControlFlow::Continue(())).expect("a sound line");
        }
        let mut watch = Watch::new(search.rules);
        let mut ready_ns = None;
        let hand = search.hand.take().expect("a hand");
        loop {
            let started_ns = self.bench.now_ns();
            hand.work(self.bench).expect("a virtual rig");
            self.warm(started_ns);
            let glances = slotwise_study::identify::look(self.bench, search.members).expect("a sound line");
            let readings: Vec<_> = glances.iter().map(slotwise_study::identify::Glance::reading).collect();
            let now_ns = self.bench.now_ns();
            match watch.add(now_ns, &readings) {
                State::Found(found) => return Outcome::Found(found),
                State::Ready { .. } => {
                    ready_ns = Some(now_ns);
                    hand.take_one(now_ns);
                }
                _ if ready_ns.is_some_and(|ready_ns| now_ns - ready_ns > 120 * SECOND_NS) => return Outcome::Ended,
                _ => {}
            }
            slotwise_study::identify::pause(self.bench, started_ns).expect("a virtual rig");
        }
    }

    /// Each from where it was at first; a hand is not warmed.
    fn warm(&mut self, now_ns: u64) {
        let by = (self.celsius_per_minute * now_ns as f64 / 60e9 * 1e3) as i32;
        let around = self.rig.virtual_line().expect("a virtual rig").ambient_millicelsius;
        for (place, sensor) in self.rig.inventory.iter().enumerate() {
            let own = sensor.behaviour.ambient_millicelsius.unwrap_or(around);
            self.bench.set_ambient(&[place], own + by).expect("a virtual rig");
        }
    }
}

/// How invented readings scatter around a temperature that does not move.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Scatter {
    Normal(f64),
    HeavyTails(f64),
    /// Each goes its own way and comes back: the deviation of where it is, and how long it remembers.
    Wanders {
        deviation: f64,
        within_s: f64,
    },
}

fn names_a_sensor(seed: u64, scatter: Scatter) -> bool {
    const SENSORS: usize = 8;
    const STEP: f64 = 0.0625;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = move || -> f64 { StandardNormal.sample(&mut random) };
    let mut tails_random = ChaCha8Rng::seed_from_u64(seed ^ 0xFFFF);
    let tails = StudentT::new(3.0).expect("three degrees of freedom");
    let mut places: Vec<f64> = match scatter {
        Scatter::Wanders { deviation, .. } => (0..SENSORS).map(|_| normal() * deviation).collect(),
        Scatter::Normal(_) | Scatter::HeavyTails(_) => vec![0.0; SENSORS],
    };
    let mut watch = Watch::new(Rules::default());
    let mut ready = None;
    for second in 0..400_u64 {
        let readings: Vec<Option<Reading>> = places
            .iter_mut()
            .map(|place| {
                let value = match scatter {
                    Scatter::Normal(deviation) => normal() * deviation,
                    Scatter::HeavyTails(scale) => tails.sample(&mut tails_random) * scale,
                    Scatter::Wanders { deviation, within_s } => {
                        let kept = (-1.0 / within_s).exp();
                        *place = *place * kept + normal() * deviation * (1.0 - kept * kept).sqrt();
                        *place + normal() * 0.03
                    }
                };
                Some(Reading { celsius: ((20.0 + value) / STEP).floor() * STEP, step_celsius: STEP })
            })
            .collect();
        match watch.add(second * SECOND_NS, &readings) {
            State::Found(_) => return true,
            State::Ready { .. } => ready = Some(second),
            _ if ready.is_some_and(|ready| second - ready > 120) => return false,
            _ => {}
        }
    }
    false
}
