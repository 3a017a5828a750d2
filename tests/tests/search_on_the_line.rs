//! The real search over the virtual line: electricity and time included.
#![allow(clippy::unwrap_used)] // helpers of tests

mod desk;

use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwise::bus::{RomCode, SearchScope};
use slotwise::line::Timing;
use slotwise_virtual_line::{Cpu, Electrical, LineConfig, Part, SensorConfig, VirtualLine};

const PARTS: [Part; 5] = [Part::Ds18b20, Part::Ds18s20, Part::Ds1822, Part::Ds1825, Part::Ds28ea00];

proptest! {
    // Up to 64 sensors are 64 passes of 200 slots; the same property runs thousands of times at slot level in the driver's tests.
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn the_search_finds_exactly_the_sensors_on_the_line(
        serials in proptest::collection::btree_set((0usize..5, prop_oneof![any::<u64>(), 0u64..16]), 0..=64),
        seed: u64,
    ) {
        // 64 x 25 pF need a stiff pull-up; 1.5 kohm is the smallest for a valid 0 at 5 V ("MicroLAN In The Long Run").
        let config = LineConfig { supply_mv: 5_000, pull_up_ohm: Some(1_500), cpu: Cpu::at_mhz(72), ..LineConfig::default() };
        let line = VirtualLine::new(config, seed).unwrap();
        let mut expected = BTreeSet::new();
        for (part, serial) in serials {
            let sensor = SensorConfig { electrical: Electrical::typical(), ..SensorConfig::new(PARTS[part], serial & 0xFFFF_FFFF_FFFF) };
            if expected.insert(sensor.rom.bytes()) {
                line.attach(sensor).unwrap();
            }
        }
        let mut bus = desk::bus(&line, Timing::LONG_LINE);
        let found: Result<Vec<RomCode>, _> = bus.search(SearchScope::All).collect();
        match found {
            Ok(found) => {
                prop_assert_eq!(found.len(), expected.len());
                prop_assert_eq!(found.iter().map(|rom| *rom.bytes()).collect::<BTreeSet<_>>(), expected);
            }
            Err(error) => {
                prop_assert!(expected.is_empty(), "{}", error);
                prop_assert_eq!(error, slotwise::bus::SearchError::Nobody);
            }
        }
    }
}
