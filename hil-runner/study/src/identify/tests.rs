//! The judge against invented readings: who moves is decided here, unknown to the judge.
//!
//! Sensors follow their surroundings with a first-order lag (common practice for a thermometer in a case), have normal noise, and
//! are rounded to the steps of their resolution (DS18B20 datasheet (7/19), Table 2: 0.5, 0.25, 0.125, 0.0625 degC).

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use super::window::ReadingWindow;
use super::*;

const SECOND_NS: u64 = 1_000_000_000;

/// An invented sensor.
#[derive(Clone, Copy, Debug)]
struct Thing {
    celsius: f64,
    lag_s: f64,
    noise: f64,
    step: f64,
}

const USUAL: Thing = Thing { celsius: 12.5, lag_s: 20.0, noise: 0.03, step: 0.0625 };
const COARSE: Thing = Thing { step: 0.5, ..USUAL };

/// A room with sensors.
struct Room {
    random: ChaCha8Rng,
    things: Vec<Thing>,
    /// Temperature of each element.
    elements: Vec<f64>,
    second: u64,
    watch: Watch,
    /// When it was ready.
    ready: Option<u64>,
}

impl Room {
    fn new(seed: u64, things: Vec<Thing>) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        // Anywhere in a step.
        let things: Vec<Thing> = things
            .into_iter()
            .map(|thing| Thing { celsius: thing.celsius + random.random::<f64>(), ..thing })
            .collect();
        let elements = things.iter().map(|thing| thing.celsius).collect();
        Self { random, things, elements, second: 0, watch: Watch::new(Rules::default()), ready: None }
    }

    /// One second, in which it is so many degrees warmer around each sensor than it was at first.
    fn second(&mut self, warmer: impl Fn(usize) -> f64) -> State {
        let readings: Vec<Option<Reading>> = (0..self.things.len())
            .map(|index| {
                let thing = self.things[index];
                let around = thing.celsius + warmer(index);
                self.elements[index] += (around - self.elements[index]) * (1.0 - (-1.0 / thing.lag_s).exp());
                let noise = Normal::new(0.0, thing.noise).unwrap().sample(&mut self.random);
                let celsius = ((self.elements[index] + noise) / thing.step).floor() * thing.step;
                Some(Reading { celsius, step_celsius: thing.step })
            })
            .collect();
        self.add(&readings)
    }

    fn add(&mut self, readings: &[Option<Reading>]) -> State {
        self.second += 1;
        let state = self.watch.add(self.second * SECOND_NS, readings);
        if matches!(state, State::Ready { .. }) {
            self.ready = Some(self.second);
        }
        state
    }

    /// Has everybody come to rest.
    #[track_caller]
    fn settle(&mut self) {
        for _ in 0..200 {
            if let State::Ready { restless, silent } = self.second(|_| 0.0) {
                assert_eq!((restless, silent), (vec![], vec![]));
                return;
            }
        }
        panic!("they never rest");
    }

    /// The states of so many seconds, or until a sensor is found.
    fn watch(&mut self, seconds: u64, warmer: impl Fn(u64, usize) -> f64) -> Vec<State> {
        let mut states = Vec::new();
        for second in 0..seconds {
            let state = self.second(|sensor| warmer(second, sensor));
            states.push(state.clone());
            if matches!(state, State::Found(_)) {
                break;
            }
        }
        states
    }
}

fn found(states: &[State]) -> Option<usize> {
    states.iter().find_map(|state| if let State::Found(found) = state { Some(found.sensor) } else { None })
}

/// A hand that warms one of eight sensors by `by` after three seconds, for many seeds: how many were found, how many wrongly.
fn hands(things: &[Thing], by: f64, seeds: u64) -> (u64, u64) {
    let (mut right, mut wrong) = (0, 0);
    for seed in 0..seeds {
        let mut room = Room::new(seed, things.to_vec());
        room.settle();
        let taken = usize::try_from(seed).unwrap() % things.len();
        let states = room.watch(60, |second, sensor| if sensor == taken && second >= 3 { by } else { 0.0 });
        match found(&states) {
            Some(sensor) if sensor == taken => right += 1,
            Some(_) => wrong += 1,
            None => {}
        }
    }
    (right, wrong)
}

#[test]
fn the_one_that_a_hand_warms_is_found_and_so_is_the_one_that_it_cools() {
    assert_eq!(hands(&[USUAL; 8], 10.0, 40), (40, 0));
    assert_eq!(hands(&[USUAL; 8], -10.0, 40), (40, 0));
}

#[test]
fn coarse_slow_noisy_and_few_sensors_are_found_as_well() {
    assert_eq!(hands(&[COARSE; 8], 10.0, 40), (40, 0));
    assert_eq!(hands(&[Thing { lag_s: 90.0, ..USUAL }; 8], 10.0, 40), (40, 0));
    assert_eq!(hands(&[Thing { noise: 0.2, ..USUAL }; 8], 10.0, 40), (40, 0));
    for count in 1..4 {
        assert_eq!(hands(&vec![USUAL; count], 10.0, 40), (40, 0), "{count} sensors");
    }
    assert_eq!(
        hands(&[USUAL, COARSE, Thing { lag_s: 2.0, ..USUAL }, Thing { noise: 0.0, ..USUAL }], 10.0, 40),
        (40, 0)
    );
}

#[test]
fn less_than_was_asked_for_is_no_hand() {
    assert_eq!(hands(&[USUAL; 8], 0.8, 40), (0, 0));
    // Two steps of 9 bits.
    assert_eq!(hands(&[COARSE; 8], 0.99, 40), (0, 0));
}

#[test]
fn none_is_named_where_none_moves() {
    for thing in [USUAL, COARSE, Thing { noise: 0.3, ..USUAL }] {
        for seed in 0..200 {
            let mut room = Room::new(seed, vec![thing; 8]);
            room.settle();
            assert_eq!(found(&room.watch(120, |_, _| 0.0)), None, "{thing:?}, seed {seed}");
        }
    }
}

/// The chance is said to hold for a whole watch, of all sensors and rounds: of a thousand watches in which no sensor moves, no more than
/// one in twenty may have one of 5 % or less.
#[test]
fn noise_alone_is_no_more_remarkable_than_the_chance_says() {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let mut watch = || {
        let mut window = ReadingWindow::default();
        let mut least: f64 = 1.0;
        for second in 0..(BASELINE as u64 + 122) {
            let round: Vec<_> =
                (0..8).map(|_| Some(Reading { celsius: normal.sample(&mut random), step_celsius: 0.0 })).collect();
            window.add(second * SECOND_NS, &round);
            let Some(round) = (second + 1).checked_sub(BASELINE as u64) else { continue };
            if round == 0 {
                window.begin();
                continue;
            }
            for departure in window.departed(&[true; 8]).into_iter().flatten() {
                least = least.min(departure.chance(8, u32::try_from(round).unwrap()));
            }
        }
        least
    };
    let remarkable = (0..1000).filter(|_| watch() <= 0.05).count();
    assert!((1..=50).contains(&remarkable), "{remarkable}");
}

#[test]
fn a_room_that_drifts_hides_no_hand_and_is_none() {
    for seed in 0..40 {
        for hand in [0.0, 10.0] {
            let mut room = Room::new(seed, vec![USUAL; 8]);
            room.settle();
            // A degree a minute, in all of it: much for a room.
            let states = room.watch(110, |second, sensor| {
                second as f64 / 60.0 + if sensor == 5 && second >= 3 { hand } else { 0.0 }
            });
            assert_eq!(found(&states), (hand > 0.0).then_some(5), "seed {seed}, hand {hand}");
        }
    }
}

#[test]
fn a_room_that_warms_at_once_is_not_a_hand_though_some_follow_sooner() {
    for seed in 0..40 {
        let things = vec![Thing { lag_s: 4.0, ..USUAL }, USUAL, USUAL, Thing { lag_s: 10.0, ..USUAL }, USUAL, USUAL];
        let mut room = Room::new(seed, things);
        room.settle();
        let states = room.watch(120, |second, _| if second >= 3 { 4.0 } else { 0.0 });
        assert_eq!(found(&states), None, "seed {seed}");
        assert!(states.contains(&State::Everything), "seed {seed}");
    }
}

#[test]
fn two_hands_name_no_sensor_until_one_lets_go() {
    for seed in 0..40 {
        for second_lag in [20.0, 5.0, 60.0] {
            let mut things = vec![USUAL; 8];
            things[6].lag_s = second_lag;
            let mut room = Room::new(seed, things);
            room.settle();
            let both =
                room.watch(40, |second, sensor| if second >= 3 && (sensor == 1 || sensor == 6) { 10.0 } else { 0.0 });
            assert_eq!(found(&both), None, "seed {seed}, lag {second_lag}");
            let pair = |state: &State| matches!(state, State::Several(who) if who.contains(&1) && who.contains(&6));
            assert!(both.iter().any(pair), "seed {seed}, lag {second_lag}");
            // Held for longer than a baseline lives, then only one: that one, and not the other, which moves now.
            let held = room.watch(60, |_, sensor| if sensor == 1 || sensor == 6 { 10.0 } else { 0.0 });
            assert_eq!(found(&held), None, "seed {seed}, lag {second_lag}");
            let one = room.watch(600, |_, sensor| if sensor == 1 { 10.0 } else { 0.0 });
            assert_eq!(found(&one), Some(1), "seed {seed}, lag {second_lag}");
        }
    }
}

#[test]
fn a_sensor_that_falls_silent_while_another_moves_is_reported_and_none_named() {
    let mut room = Room::new(1, vec![USUAL; 4]);
    room.settle();
    let mut states = Vec::new();
    for second in 0..30_u32 {
        let warm = |sensor| {
            Some(Reading { celsius: 12.5 + if sensor == 2 { f64::from(second) } else { 0.5 }, step_celsius: 0.0625 })
        };
        states.push(room.add(&[warm(0), None, warm(2), warm(3)]));
    }
    assert_eq!(found(&states), None);
    assert_eq!(states.last(), Some(&State::Unseen { moving: 2, silent: vec![1] }));
}

/// The sensors that a state accuses.
fn accused(state: &State) -> Vec<usize> {
    match state {
        State::Several(who) => who.clone(),
        State::Moving(one) | State::Unseen { moving: one, .. } => vec![*one],
        State::Found(found) => vec![found.sensor],
        State::Settling(_) | State::Ready { .. } | State::Still | State::Everything => vec![],
    }
}

#[test]
fn one_that_stays_where_it_was_is_never_accused() {
    // Of three: the first is warmed while the second is silent; and the first two are warmed at once. The third does nothing.
    for (second_moves, second_answers) in [(false, false), (true, true)] {
        let mut room = Room::new(1, vec![USUAL; 3]);
        room.settle();
        let mut states = Vec::new();
        for second in 0..40_u32 {
            let read = |celsius: f64| Some(Reading { celsius, step_celsius: 0.0625 });
            // From the middle of a step, so that nothing flickers.
            let start = |sensor: usize| room.things[sensor].celsius;
            let warm = f64::from(second) / 4.0;
            let other = if second_moves { warm } else { 0.0 };
            let readings = [read(start(0) + warm), read(start(1) + other).filter(|_| second_answers), read(start(2))];
            states.push(room.add(&readings));
            let third = room.watch.departures()[2].unwrap_or(0.0);
            assert!(third.abs() < 0.1, "{third} in second {second}");
        }
        let accused: std::collections::BTreeSet<usize> = states.iter().flat_map(accused).collect();
        let expected: &[usize] = if second_moves { &[0, 1] } else { &[0] };
        assert_eq!(accused.into_iter().collect::<Vec<_>>(), expected, "{states:?}");
        assert_eq!(found(&states), None);
    }
}

#[test]
fn one_other_that_answers_is_not_the_room() {
    let mut room = Room::new(1, vec![USUAL; 3]);
    room.settle();
    let start: Vec<f64> = room.things.iter().map(|thing| thing.celsius).collect();
    // The second falls silent, and both others are warmed.
    let states: Vec<State> = (0..20_u32)
        .map(|second| {
            let read = |celsius: f64| Some(Reading { celsius: celsius + f64::from(second), step_celsius: 0.0625 });
            room.add(&[read(start[0]), None, read(start[2])])
        })
        .collect();
    let pair = |state: &State| matches!(state, State::Several(who) if who.contains(&0) && who.contains(&2));
    assert!(states.last().is_some_and(pair) && !states.contains(&State::Everything), "{states:?}");
}

#[test]
fn one_that_stays_where_it_was_rests_though_all_others_move() {
    let mut watch = Watch::new(Rules::default());
    let read = |celsius: f64| Some(Reading { celsius, step_celsius: 0.0625 });
    let states: Vec<State> = (0..20_u32)
        .map(|second| {
            let warm = 20.0 + f64::from(second);
            watch.add(u64::from(second) * SECOND_NS, &[read(warm), read(warm), read(20.0)])
        })
        .collect();
    assert!(matches!(states.last(), Some(State::Settling(moving)) if !moving.contains(&2)), "{:?}", states.last());
}

#[test]
fn one_that_was_silent_from_the_start_takes_no_part_and_stops_no_other() {
    let mut watch = Watch::new(Rules::default());
    let mut states = Vec::new();
    for second in 0..40_u32 {
        let celsius = |sensor: u32| {
            20.0 + f64::from(sensor) + if sensor == 2 && second > 15 { f64::from(second - 15) } else { 0.0 }
        };
        let read = |sensor| Some(Reading { celsius: celsius(sensor), step_celsius: 0.0625 });
        states.push(watch.add(u64::from(second) * SECOND_NS, &[read(0), None, read(2), read(3)]));
    }
    assert!(states.contains(&State::Ready { restless: vec![], silent: vec![1] }));
    assert_eq!(found(&states), Some(2));
}

#[test]
fn one_that_does_not_rest_is_waited_for_and_then_left_out() {
    let mut room = Room::new(1, vec![USUAL; 4]);
    let mut states = Vec::new();
    for second in 0..200_u32 {
        states.push(room.second(|sensor| if sensor == 3 { f64::from(second) / 4.0 } else { 0.0 }));
        if room.ready.is_some() {
            break;
        }
    }
    assert!(room.ready.is_some_and(|second| second > SETTLES_WITHIN_NS / SECOND_NS));
    assert_eq!(states.last(), Some(&State::Ready { restless: vec![3], silent: vec![] }));
}

#[test]
fn one_that_goes_back_after_a_hand_is_not_named_again() {
    for seed in 0..40 {
        for thing in [USUAL, COARSE, Thing { lag_s: 90.0, ..USUAL }] {
            let mut room = Room::new(seed, vec![thing; 8]);
            room.settle();
            let states = room.watch(60, |second, sensor| if sensor == 4 && second >= 3 { 10.0 } else { 0.0 });
            assert_eq!(found(&states), Some(4));
            // It is let go of, and a new watch begins.
            room.watch = Watch::new(Rules::default());
            room.ready = None;
            while room.ready.is_none() {
                room.second(|_| 0.0);
            }
            assert_eq!(found(&room.watch(120, |_, _| 0.0)), None, "{thing:?}, seed {seed}");
        }
    }
}

#[test]
fn one_reading_that_jumps_names_no_sensor() {
    let mut room = Room::new(1, vec![USUAL; 8]);
    room.settle();
    let mut states = Vec::new();
    for second in 0..60_u32 {
        let jumps = second % 10 == 5;
        let reading =
            |sensor| Some(Reading { celsius: if jumps && sensor == 2 { 85.0 } else { 12.5 }, step_celsius: 0.0625 });
        states.push(room.add(&(0..8).map(reading).collect::<Vec<_>>()));
    }
    assert!(states.iter().skip(3).all(|state| matches!(state, State::Still | State::Everything)), "{states:?}");
    assert_eq!(found(&states), None);
}

/// So many rounds in which each sensor reads what it did, and so much more.
fn rounds(room: &mut Room, seconds: u64, more: impl Fn(usize) -> f64) -> Vec<State> {
    let things = room.things.clone();
    let reading =
        |index: usize| Some(Reading { celsius: things[index].celsius + more(index), step_celsius: things[index].step });
    (0..seconds).map(|_| room.add(&(0..things.len()).map(reading).collect::<Vec<_>>())).collect()
}

#[test]
fn one_that_moves_for_a_moment_only_is_not_named_until_it_stays() {
    let mut room = Room::new(1, vec![USUAL; 4]);
    room.settle();
    // Long enough to be seen, too short to be confirmed.
    let seen = rounds(&mut room, 5, |sensor| if sensor == 1 { 10.0 } else { 0.0 });
    assert!(seen.contains(&State::Moving(1)), "{seen:?}");
    assert_eq!(found(&seen), None);
    assert_eq!(found(&rounds(&mut room, 20, |_| 0.0)), None);
    assert_eq!(found(&rounds(&mut room, 20, |sensor| if sensor == 1 { 10.0 } else { 0.0 })), Some(1));
}

#[test]
fn one_that_moves_most_in_a_room_that_moves_as_well_is_not_named() {
    for (room_moves, named) in [(0.2, Some(2)), (3.0, None)] {
        let mut room = Room::new(2, vec![USUAL; 6]);
        room.settle();
        let states = rounds(&mut room, 20, |sensor| if sensor == 2 { 10.0 } else { room_moves });
        assert_eq!(found(&states), named, "{room_moves}");
        assert_eq!(states.contains(&State::Everything), named.is_none(), "{room_moves}: {states:?}");
    }
}
