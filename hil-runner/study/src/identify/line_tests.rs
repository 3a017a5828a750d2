//! The whole way on virtual lines: sensors, driver, judge, and a simulated hand that alone knows what it holds.

use std::ops::ControlFlow;

use super::*;
use crate::{Member, gather};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_rig::Fault;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Rig, built_in_rig, built_in_rig_text};

fn ready(rig: &Rig, seed: u64) -> (Box<dyn Bench>, Vec<Member>) {
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let mut bench = open(rig, seed, Tracing::Off, outside).unwrap();
    let party = gather(bench.as_mut(), rig).unwrap();
    (bench, party.members)
}

/// Seeks once. Returns the sensors that the hand held in the end, by its own account, and the judge's answer.
fn once(
    bench: &mut dyn Bench,
    rig: &Rig,
    members: &[Member],
    hand: &mut SimulatedHand,
) -> (Vec<String>, Result<String, State>) {
    let outcome = sought(bench, members, hand);
    let held = hand.held().iter().map(|index| rig.inventory[*index].label.clone()).collect();
    (held, outcome)
}

fn sought(bench: &mut dyn Bench, members: &[Member], hand: &mut dyn Hand) -> Result<String, State> {
    let search = Search { members, rules: Rules::default(), limit: Rules::LIMIT, hand: Some(hand) };
    match seek(bench, search, &mut |_| ControlFlow::Continue(())).unwrap() {
        Outcome::Found(found) => Ok(members[found.sensor].sensor.label.clone().unwrap()),
        Outcome::Missed { last, .. } => Err(last),
        Outcome::Ended => panic!("the listener never ends it"),
    }
}

/// A hand that tears off the lead of another sensor when it is to take one.
struct Clumsy {
    hand: SimulatedHand,
    tears_off: Option<usize>,
    is_asked: bool,
}

impl Hand for Clumsy {
    fn take_one(&mut self, now_ns: u64) {
        self.is_asked = true;
        self.hand.take_one(now_ns);
    }

    fn let_go(&mut self, now_ns: u64) {
        self.hand.let_go(now_ns);
    }

    fn work(&mut self, bench: &mut dyn Bench) -> Result<(), Trouble> {
        if let Some(sensor) = self.tears_off.take_if(|_| self.is_asked) {
            bench.inject(&Fault::Unplug(vec![sensor]))?;
        }
        self.hand.work(bench)
    }
}

/// The cellar with one piece of its text replaced, everywhere.
fn cellar_with(from: &str, to: &str) -> Rig {
    let text = built_in_rig_text("cellar").unwrap();
    assert!(text.contains(from), "{from:?}");
    Rig::parse("cellar", &text.replace(from, to)).unwrap()
}

#[test]
fn the_sensor_in_the_hand_is_named_whatever_the_seed() {
    let rig = built_in_rig("cellar").unwrap();
    for seed in 0..12 {
        let (mut bench, members) = ready(&rig, seed);
        let mut hand = SimulatedHand::by_seed(&rig, seed).unwrap();
        // Several in a row: the next begins while the one before cools down.
        for _ in 0..3 {
            let (held, named) = once(bench.as_mut(), &rig, &members, &mut hand);
            assert_eq!(Ok(held), named.map(|label| vec![label]), "seed {seed}");
        }
    }
}

#[test]
fn seeds_take_different_sensors_and_each_of_them_once() {
    let rig = built_in_rig("cellar").unwrap();
    let order = |seed| {
        let (mut bench, _) = ready(&rig, seed);
        let mut hand = SimulatedHand::by_seed(&rig, seed).unwrap();
        let mut taken = Vec::new();
        for _ in 0..rig.inventory.len() {
            hand.take_one(bench.now_ns());
            bench.wait_us(7_000_000).unwrap();
            hand.work(bench.as_mut()).unwrap();
            taken.extend(hand.held().to_vec());
            hand.let_go(bench.now_ns());
            bench.wait_us(4_000_000).unwrap();
            hand.work(bench.as_mut()).unwrap();
        }
        taken
    };
    let (one, other) = (order(1), order(2));
    assert_ne!(one, other);
    for mut taken in [one, other] {
        taken.sort_unstable();
        assert_eq!(taken, (0..8).collect::<Vec<_>>());
    }
}

#[test]
fn nine_bits_are_enough() {
    let rig =
        cellar_with("noise = \"0.02 degC\"\nlag = \"20 s\"", "noise = \"0.02 degC\"\nlag = \"20 s\"\nresolution = 9");
    for seed in 0..4 {
        for sensor in [0, 1, 2] {
            let (mut bench, members) = ready(&rig, seed);
            let mut hand = SimulatedHand::in_turn(&rig, seed, vec![vec![sensor]]).unwrap();
            let (held, named) = once(bench.as_mut(), &rig, &members, &mut hand);
            assert_eq!(Ok(held), named.map(|label| vec![label]), "seed {seed}");
        }
    }
}

#[test]
fn a_warm_room_is_left_to_a_cold_pack() {
    let rig = cellar_with("ambient = \"12.5 degC\"", "ambient = \"29 degC\"");
    let (mut bench, members) = ready(&rig, 1);
    let mut hand = SimulatedHand::in_turn(&rig, 1, vec![vec![2]]).unwrap();
    let (held, named) = once(bench.as_mut(), &rig, &members, &mut hand);
    assert_eq!((held, named), (vec!["middle shelf".to_owned()], Ok("middle shelf".to_owned())));
}

#[test]
fn no_sensor_is_named_without_a_hand() {
    let rig = built_in_rig("cellar").unwrap();
    for seed in 0..6 {
        let (mut bench, members) = ready(&rig, seed);
        let mut hand = SimulatedHand::in_turn(&rig, seed, vec![]).unwrap();
        let sought = once(bench.as_mut(), &rig, &members, &mut hand);
        assert_eq!(sought, (vec![], Err(State::Still)), "seed {seed}");
    }
}

#[test]
fn two_hands_name_no_sensor() {
    let rig = built_in_rig("cellar").unwrap();
    for (seed, pair) in [(1, [0, 1]), (2, [4, 5]), (3, [0, 7]), (4, [5, 6])] {
        let (mut bench, members) = ready(&rig, seed);
        let mut hand = SimulatedHand::in_turn(&rig, seed, vec![pair.to_vec()]).unwrap();
        let (held, named) = once(bench.as_mut(), &rig, &members, &mut hand);
        assert_eq!(held.len(), 2);
        assert!(matches!(&named, Err(State::Several(who)) if who.len() == 2), "{pair:?}: {named:?}");
    }
}

#[test]
fn a_sensor_that_is_unplugged_while_another_is_held_stops_the_naming() {
    let rig = built_in_rig("cellar").unwrap();
    let (mut bench, members) = ready(&rig, 1);
    let hand = SimulatedHand::in_turn(&rig, 1, vec![vec![4]]).unwrap();
    let mut hand = Clumsy { hand, tears_off: Some(6), is_asked: false };
    let named = sought(bench.as_mut(), &members, &mut hand);
    assert_eq!(hand.hand.held(), [4]);
    let place = |label: &str| members.iter().position(|member| member.sensor.label.as_deref() == Some(label)).unwrap();
    assert_eq!(named, Err(State::Unseen { moving: place("brine bath"), silent: vec![place("door")] }));
}

#[test]
fn a_search_says_the_same_and_lets_go_in_the_end() {
    let rig = built_in_rig("cellar").unwrap();
    let (mut bench, members) = ready(&rig, 5);
    let mut hand = SimulatedHand::in_turn(&rig, 5, vec![vec![3]]).unwrap();
    let rules = Rules::default();
    let search = Search { members: &members, rules, limit: Rules::LIMIT, hand: Some(&mut hand) };
    let mut rounds = 0;
    let sought = seek(bench.as_mut(), search, &mut |_| {
        rounds += 1;
        ControlFlow::Continue(())
    });
    let Ok(Outcome::Found(found)) = sought else { panic!("{sought:?}") };
    assert_eq!(members[found.sensor].sensor.label.as_deref(), Some("lower shelf"));
    assert!(found.celsius > 1.0 && found.chance < rules.chance && rounds > BASELINE, "{found:?}");
    bench.wait_us(4_000_000).unwrap();
    hand.work(bench.as_mut()).unwrap();
    assert!(hand.held().is_empty());
}

#[test]
fn an_emulated_chip_has_hands_as_well() {
    let rig = built_in_rig("cellar").unwrap().emulated().unwrap();
    let (mut bench, members) = ready(&rig, 3);
    let mut hand = SimulatedHand::by_seed(&rig, 3).unwrap();
    let (held, named) = once(bench.as_mut(), &rig, &members, &mut hand);
    assert_eq!(Ok(held), named.map(|label| vec![label]));
}
