//! The search, over any set of ROM codes and over lines that lie.

use std::collections::BTreeSet;

use crate::common::{ArbitraryLine, SlotLine, rom};
use proptest::prelude::*;
use slotwise::Error;
use slotwise::bus::{Bus, FamilyCode, RomCode, Roster, SearchError, SearchScope};

fn codes(most: usize) -> impl Strategy<Value = BTreeSet<RomCode>> {
    // Serial numbers with few distinct bits make deep and shallow forks alike.
    let serial = prop_oneof![any::<[u8; 6]>(), any::<u8>().prop_map(|b| [b & 3, 0, 0, 0, 0, b >> 6])];
    let family = prop_oneof![Just(0x28), Just(0x10), Just(0x22), Just(0x3B), Just(0x42), 1u8..];
    proptest::collection::btree_set((family, serial).prop_map(|(family, serial)| rom(family, serial)), 0..=most)
}

proptest! {
    #[test]
    fn finds_exactly_the_set_that_is_on_the_line(set in codes(64)) {
        let mut bus = Bus::new(SlotLine::of(set.iter().copied()));
        let found: Result<Vec<_>, _> = bus.search(SearchScope::All).collect();
        if set.is_empty() {
            prop_assert_eq!(found, Err(SearchError::NoPresence));
        } else {
            let found = found.unwrap();
            prop_assert_eq!(found.len(), set.len(), "none twice");
            prop_assert_eq!(found.iter().copied().collect::<BTreeSet<_>>(), set);
            // One pass per sensor (Application Note 187), 8 + 64 x 3 slots each.
            let line = bus.release();
            prop_assert_eq!(line.resets as usize, found.len());
            prop_assert_eq!(line.slots, found.len() as u64 * 200);
            let in_order = |code: &RomCode| u64::from_le_bytes(*code.bytes()).reverse_bits();
            prop_assert!(found.is_sorted_by_key(in_order), "0 branches first");
        }
    }

    #[test]
    fn a_family_search_finds_that_family_and_passes_over_the_others(set in codes(24), family in 1u8..) {
        let family = set.iter().next().map_or(family, |rom| if family & 1 == 0 { rom.family().0 } else { family });
        let mut bus = Bus::new(SlotLine::of(set.iter().copied()));
        let wanted: BTreeSet<_> = set.iter().copied().filter(|rom| rom.family().0 == family).collect();
        let found: Result<BTreeSet<_>, _> = bus.search(SearchScope::Family(FamilyCode(family))).collect();
        if set.is_empty() {
            prop_assert_eq!(found, Err(SearchError::NoPresence));
        } else {
            prop_assert_eq!(found.unwrap(), wanted.clone());
            prop_assert_eq!(bus.release().resets as usize, wanted.len().max(1), "no passes for the others");
        }
    }

    #[test]
    fn an_alarm_search_finds_those_in_alarm(set in codes(24), alarms: u32) {
        let mut line = SlotLine::of(set.iter().copied());
        for (index, sensor) in line.sensors.iter_mut().enumerate() {
            sensor.in_alarm = alarms >> index & 1 == 1;
        }
        let wanted: BTreeSet<_> = line.sensors.iter().filter(|s| s.in_alarm).map(|s| s.rom).collect();
        prop_assume!(!set.is_empty());
        let found: Result<BTreeSet<_>, _> = Bus::new(line).search(SearchScope::Alarm).collect();
        prop_assert_eq!(found.unwrap(), wanted);
    }

    #[test]
    fn presence_of_one_takes_one_pass(set in codes(24), other in any::<[u8; 6]>()) {
        let mut bus = Bus::new(SlotLine::of(set.iter().copied()));
        let stranger = rom(0x28, other);
        prop_assert_eq!(bus.is_present(stranger).unwrap(), set.contains(&stranger));
        for code in &set {
            prop_assert!(bus.is_present(*code).unwrap());
        }
        prop_assert_eq!(bus.release().resets as usize, set.len() + 1);
    }

    #[test]
    fn ends_on_any_input(answers in proptest::collection::vec(any::<u8>(), 1..200), scope in 0usize..3) {
        let scope = [SearchScope::All, SearchScope::Alarm, SearchScope::Family(FamilyCode(0x28))][scope];
        let mut bus = Bus::new(ArbitraryLine { answers, at: 0, slots: 0 });
        let mut search = bus.search(scope);
        let passes = search.by_ref().take(5000).count();
        prop_assert!(passes <= 4097);
        prop_assert!(search.next().is_none(), "stays ended");
    }

    #[test]
    fn a_roster_says_when_it_is_full(set in codes(12)) {
        prop_assume!(!set.is_empty());
        let mut roster = Roster::<8>::new();
        let outcome = Bus::new(SlotLine::of(set.iter().copied())).find(&mut roster, SearchScope::All);
        if set.len() > 8 {
            prop_assert_eq!(outcome, Err(Error::Full { capacity: 8 }));
            prop_assert_eq!(roster.len(), 8, "what was found stays");
        } else {
            prop_assert_eq!(outcome, Ok(()));
            prop_assert_eq!(roster.len(), set.len());
        }
    }
}

#[test]
fn a_line_held_low_after_the_reset_is_no_sensor() {
    // All zeros is the one code that passes its CRC on a dead line.
    let mut bus = Bus::new(ArbitraryLine { answers: vec![0], at: 0, slots: 0 });
    let found: Vec<_> = bus.search(SearchScope::All).collect();
    assert_eq!(found, [Err(SearchError::Rom(slotwise::bus::RomError::AllZeros))]);
}

#[test]
fn sensors_that_answer_the_reset_only_are_named_silent() {
    let mut bus = Bus::new(ArbitraryLine { answers: vec![0xFF], at: 0, slots: 0 });
    let found: Vec<_> = bus.search(SearchScope::All).collect();
    assert_eq!(found, [Err(SearchError::Silent { bit: 0 })]);
}

#[test]
fn read_rom_reads_the_only_sensor_and_refuses_the_mix_of_two() {
    let one = rom(0x28, [1, 2, 3, 4, 5, 6]);
    let two = rom(0x28, [0xFE, 0xFD, 0xFC, 0, 0, 0]);
    assert_eq!(Bus::new(SlotLine::of([one])).read_rom(), Ok(one));
    assert!(Bus::new(SlotLine::of([one, two])).read_rom().is_err());
}
