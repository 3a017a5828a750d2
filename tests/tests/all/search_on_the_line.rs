//! The real search over the virtual line: electricity and time included.

use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwise::bus::{RomCode, Roster, SearchScope, Survey};
use slotwise::line::Timing;
use slotwise_virtual_line::{Cpu, Electrical, Fault, LineConfig, NoisePulse, Part, SensorConfig, VirtualLine};

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
        let mut bus = crate::desk::bus(&line, Timing::LONG_LINE);
        let found: Result<Vec<RomCode>, _> = bus.search(SearchScope::All).collect();
        match found {
            Ok(found) => {
                prop_assert_eq!(found.len(), expected.len());
                prop_assert_eq!(found.iter().map(|rom| *rom.bytes()).collect::<BTreeSet<_>>(), expected);
            }
            Err(error) => {
                prop_assert!(expected.is_empty(), "{}", error);
                prop_assert_eq!(error, slotwise::bus::SearchError::NoPresence);
            }
        }
    }
}

#[test]
fn a_survey_finds_all_on_a_noisy_line_where_single_searches_do_not() {
    const SEEDS: u64 = 300;
    let (mut incomplete_searches, mut incomplete_surveys) = (0, 0);
    for seed in 0..SEEDS {
        let line = VirtualLine::new(LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() }, seed).unwrap();
        let sensors = (1..=8).map(|serial| SensorConfig::new(Part::Ds18b20, serial));
        let roms: Vec<RomCode> = sensors
            .map(|sensor| {
                let rom = RomCode::new(sensor.rom.bytes()).unwrap();
                line.attach(sensor).unwrap();
                rom
            })
            .collect();
        // 5 us are enough to turn a 1 that is read into a 0. A search of eight takes about 0.1 s.
        let pulse = NoisePulse::PullsLow { ohm: 10 };
        line.inject(Fault::Noise { pulses_per_second: 10, width_ns: 5_000, pulse }).unwrap();
        let mut bus = crate::desk::bus(&line, Timing::SHORT_LINE);
        let mut roster = Roster::<16>::new();
        let _ = bus.find(&mut roster, SearchScope::All);
        incomplete_searches += u32::from(!roms.iter().all(|rom| roster.contains(rom)));
        let mut survey = Survey::<16>::new();
        bus.survey(&mut survey, SearchScope::All, 6).unwrap();
        incomplete_surveys += u32::from(roms.iter().any(|rom| survey.times_found(*rom) == 0));
    }
    println!("of {SEEDS}: {incomplete_searches} searches and {incomplete_surveys} surveys were incomplete");
    assert!(incomplete_searches >= 20, "the noise bites: {incomplete_searches} of {SEEDS}");
    assert_eq!(incomplete_surveys, 0, "of {SEEDS}");
}
