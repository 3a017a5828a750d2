//! Sensors at the corners of the datasheet: all of them work at the short-line timing; just outside they fail with a named
//! error, and never with a wrong number.

use crate::desk::{bus, measure_all, powered_bus};
use slotwise::line::Timing;
use slotwise::thermometer::{Reading, Wait};
use slotwise_virtual_line::{
    Cable, Cpu, Level, LineConfig, MasterPin, Part, PowerMode, SensorConfig, SensorTiming, Thresholds, TimingValues,
    VirtualLine,
};

/// 25.0625 degC: a published row of DS18B20 Table 1, with bits set in every nibble that counts.
const AMBIENT_MILLICELSIUS: i32 = 25_063;
const EXPECTED: &str = "25.0625";

fn short_line(supply_mv: u32, mhz: u32) -> LineConfig {
    LineConfig {
        supply_mv,
        cpu: Cpu::at_mhz(mhz),
        ambient_millicelsius: AMBIENT_MILLICELSIUS,
        strong_pull_up_ohm: Some(10),
        cable: Cable { length_mm: 1_000, pf_per_m: 50 },
        ..LineConfig::default()
    }
}

fn with_timing(timing: SensorTiming) -> SensorConfig {
    SensorConfig { timing, ..SensorConfig::new(Part::Ds18b20, 0x1234_5678) }
}

/// Every number that comes out at short-line timing, or the first error.
fn outcome(config: LineConfig, sensor: SensorConfig) -> Result<Vec<String>, String> {
    outcome_at(Timing::SHORT_LINE, config, sensor)
}

/// Every number that comes out and is trusted, or the first error or doubt.
fn outcome_at(timing: Timing, config: LineConfig, sensor: SensorConfig) -> Result<Vec<String>, String> {
    let parasite = sensor.power == PowerMode::Parasite;
    let line = VirtualLine::new(config, 7).unwrap();
    line.attach(sensor).unwrap();
    let readings = if parasite {
        measure_all(&mut powered_bus(&line, timing), Wait::StrongPullUp)
    } else {
        measure_all(&mut bus(&line, timing), Wait::Poll)
    };
    let trusted = |reading: &Reading| match reading.doubts.iter().next() {
        None => Ok(reading.temperature.to_string()),
        Some(doubt) => Err(format!("doubt: {doubt}")),
    };
    readings?.iter().map(|(_, reading)| trusted(reading)).collect()
}

/// Typical values with every time at its shortest, at its longest, and the oscillator at its ends with the times to match.
fn corner_timings() -> Vec<(String, SensorTiming)> {
    let typical = SensorTiming::typical().values();
    let mut corners = vec![
        ("typical".to_owned(), SensorTiming::typical()),
        ("fastest".to_owned(), SensorTiming::fastest()),
        ("slowest".to_owned(), SensorTiming::slowest()),
    ];
    for presence_delay_ns in [15_000, 60_000] {
        for presence_width_ns in [60_000, 240_000] {
            for write_sample_ns in [15_000, 60_000] {
                for read_zero_hold_ns in [15_000, 60_000] {
                    let values = TimingValues {
                        presence_delay_ns,
                        presence_width_ns,
                        write_sample_ns,
                        read_zero_hold_ns,
                        ..typical
                    };
                    corners.push((format!("{values:?}"), SensorTiming::new(values).unwrap()));
                }
            }
        }
    }
    for oscillator_ppm in [-150_000, 150_000] {
        let values = TimingValues { oscillator_ppm, ..typical };
        corners.push((format!("oscillator {oscillator_ppm} ppm"), SensorTiming::new(values).unwrap()));
    }
    corners
}

#[test]
fn every_corner_sensor_works_at_short_line_timing() {
    let mut tried = 0;
    for (name, timing) in corner_timings() {
        for supply_mv in [3_000, 3_300, 5_500] {
            for mhz in [8, 72] {
                for power in [PowerMode::Local, PowerMode::Parasite] {
                    let sensor = SensorConfig { power, ..with_timing(timing) };
                    assert_eq!(
                        outcome(short_line(supply_mv, mhz), sensor),
                        Ok(vec![EXPECTED.to_owned()]),
                        "{name}, {supply_mv} mV, {mhz} MHz, {power:?}"
                    );
                    tried += 1;
                }
            }
        }
    }
    assert_eq!(tried, 21 * 3 * 2 * 2);
}

#[test]
fn worst_case_input_thresholds_work_on_a_short_line() {
    for supply_mv in [3_000, 3_300, 5_500] {
        let sensor = SensorConfig {
            thresholds: Thresholds::worst_case(PowerMode::Local),
            ..with_timing(SensorTiming::slowest())
        };
        assert_eq!(outcome(short_line(supply_mv, 72), sensor), Ok(vec![EXPECTED.to_owned()]), "{supply_mv} mV");
    }
}

#[test]
fn fastest_and_slowest_work_side_by_side() {
    for mhz in [8, 72] {
        let line = VirtualLine::new(short_line(3_300, mhz), 7).unwrap();
        for (serial, timing) in
            [SensorTiming::fastest(), SensorTiming::slowest(), SensorTiming::typical()].iter().enumerate()
        {
            line.attach(SensorConfig { timing: *timing, ..SensorConfig::new(Part::Ds18b20, serial as u64 * 77 + 1) })
                .unwrap();
        }
        let readings = measure_all(&mut bus(&line, Timing::SHORT_LINE), Wait::Poll).unwrap();
        assert_eq!(readings.len(), 3);
        assert!(readings.iter().all(|(_, reading)| reading.is_trusted()));
    }
}

/// One time of a sensor, a setter for it, values outside its limits, and the errors that are right for them.
type Knob = (&'static str, fn(&mut TimingValues, u32), &'static [u32], &'static [&'static str]);

const NO_PRESENCE: &str = "search: no sensor answered the reset";
/// Reads nothing but ones from the first bit on: what a command that was not understood, or zeros that are too short, look like.
const SILENT_FROM_THE_FIRST: &str = "search: every sensor fell silent at bit 0 of the search";
const SILENT_AT_THE_SECOND: &str = "search: every sensor fell silent at bit 1 of the search";
const NEVER_IDLE_HIGH: &str = "search: line never idle high in time: pull-up too weak for this cable";
const TOO_LATE: &str = "search: line low right after each reset, yet it rises in time: the master samples too late (delay too coarse, \
    calls slower than configured), or a sensor answers too early";
const DISTURBED: &str = "search: line driven low by another party while the master was writing";

/// Just outside the limits, on the side where a master at short-line timing cannot work any more.
const OUTSIDE: &[Knob] = &[
    // A sensor that lets go of a 0 before the master samples at 13 us: bit and complement both read as ones.
    ("read-0 hold", |values, ns| values.read_zero_hold_ns = ns, &[1_000, 6_000, 12_000], &[SILENT_FROM_THE_FIRST]),
    // Samples when a write-0 of 61 us is over, and after it: Search ROM is heard as FFh, which is no command.
    ("late sample", |values, ns| values.write_sample_ns = ns, &[64_000, 70_000, 90_000], &[SILENT_FROM_THE_FIRST]),
    // Samples within the 3 us of a write 1: Search ROM is heard as 00h, which is no command.
    ("early sample", |values, ns| values.write_sample_ns = ns, &[500, 2_000], &[SILENT_FROM_THE_FIRST]),
    // Not through with its answer to the complement when the direction of the first bit, a 0, is written: it takes the next
    // slot, a 1, for it and drops out.
    ("long hold", |values, ns| values.read_zero_hold_ns = ns, &[70_000, 100_000], &[SILENT_AT_THE_SECOND]),
    // Takes the reset pulse of 482 us for something else.
    ("reset detection", |values, ns| values.reset_detect_ns = ns, &[490_000, 600_000], &[NO_PRESENCE]),
    // Takes a write-0 for a reset, and its own presence pulse of 115 us too: it is present again and again, at the end of the
    // reset or in mid-command.
    ("early reset", |values, ns| values.reset_detect_ns = ns, &[40_000, 55_000], &[NEVER_IDLE_HIGH, DISTURBED]),
    // Still present when the first slot should begin, 480 us after the reset pulse.
    ("presence width", |values, ns| values.presence_width_ns = ns, &[470_000, 900_000], &[NEVER_IDLE_HIGH]),
    // Present so early that the line looks like one that rises slowly.
    ("early presence", |values, ns| values.presence_delay_ns = ns, &[2_000, 8_000], &[TOO_LATE]),
];

#[test]
fn just_outside_the_limits_sensors_fail_by_name() {
    for (name, set, values_ns, errors) in OUTSIDE {
        for ns in *values_ns {
            let mut values = SensorTiming::typical().values();
            set(&mut values, *ns);
            assert!(SensorTiming::new(values).is_err(), "{name} of {ns} ns is legal");
            let sensor = with_timing(SensorTiming::outside_limits(values).unwrap());
            let failed = outcome(short_line(3_300, 72), sensor).expect_err(name);
            assert!(errors.contains(&failed.as_str()), "{name} of {ns} ns: {failed}");
        }
    }
}

#[test]
fn no_sensor_inside_or_outside_its_limits_gives_a_wrong_number() {
    // A coarse sweep over everything a sensor's clock can do.
    let mut failures = 0;
    for (name, set, ..) in OUTSIDE {
        for ns in (500..1_000_000).step_by(4_700) {
            let mut values = SensorTiming::typical().values();
            set(&mut values, ns);
            let sensor = with_timing(SensorTiming::outside_limits(values).unwrap());
            match outcome(short_line(3_300, 72), sensor) {
                Ok(numbers) => assert!(numbers.iter().all(|number| number == EXPECTED), "{name} {ns} ns: {numbers:?}"),
                Err(_) => failures += 1,
            }
        }
    }
    assert!(failures > 500, "the sweep reaches far outside: {failures}");
}

#[test]
fn the_supply_limits_are_where_the_datasheet_has_them() {
    // 3.0 to 5.5 V (DS18B20 datasheet (7/19), DC table). Far below, the sensor is off and does not answer.
    let sensor = || with_timing(SensorTiming::typical());
    assert!(outcome(short_line(3_000, 72), sensor()).is_ok());
    assert!(outcome(short_line(5_500, 72), sensor()).is_ok());
    assert_eq!(outcome(short_line(2_000, 72), sensor()), Err("search: no sensor answered the reset".to_owned()));
}

#[test]
fn a_parasite_sensor_without_its_strong_pull_up_gives_no_number() {
    let config = LineConfig { strong_pull_up_ohm: None, ..short_line(3_300, 72) };
    let line = VirtualLine::new(config, 7).unwrap();
    line.attach(SensorConfig { power: PowerMode::Parasite, ..with_timing(SensorTiming::typical()) }).unwrap();
    let mut bus = bus(&line, Timing::SHORT_LINE);
    for wait in [Wait::Poll, Wait::StrongPullUp] {
        assert!(measure_all(&mut bus, wait).is_err(), "{wait:?}");
    }
    // Waited for by time, the sensor has lost its supply in mid-conversion: power-on value, with the doubt that says so.
    let readings = measure_all(&mut bus, Wait::Time).unwrap();
    assert_eq!(readings[0].1.temperature.to_string(), "85");
    assert!(!readings[0].1.is_trusted());
}

/// A timing set and the RC products, in nanoseconds, up to which it must bring out the number at 3.3 V whatever else is at its
/// worst: for a sensor on its own supply, and for one on parasite power.
type Reach = (&'static str, Timing, f64, f64);

/// Each from the longest of: recovery after a write 0, less tREC, and the 2 (long line) or 3 us to 15 us after the edge at
/// which the fastest sensor samples, over 1.1 RC to 2.2 V or 2.4 RC to 3.0 V; and the rise check over 1.2 RC to 70 %.
const REACHES: &[Reach] = &[
    // 2 us / 1.1; 2 us / 2.4.
    ("short line", Timing::SHORT_LINE, 1_800.0, 800.0),
    // 11.5 us / 1.2, less what the sensor's 5 uA take from the line; 13 us / 2.4, likewise.
    ("long line", Timing::LONG_LINE, 9_400.0, 5_200.0),
];

/// What a line that rises too slowly may be called. Each of these sends its reader to the line; none says that no sensor is connected.
const NAMES_OF_A_SLOW_LINE: &[&str] = &[
    "line never idle high in time: pull-up too weak for this cable",
    "line driven low by another party while the master was writing",
    "every sensor fell silent at bit",
    "the sensor did not answer (all bits read 1)",
];

/// What the master's input may be like: CMOS, and TTL-like.
fn master_inputs() -> [MasterPin; 2] {
    let cmos = MasterPin::default();
    [cmos, MasterPin { threshold_low: Level::Millivolt(1_200), threshold_high: Level::Millivolt(1_300), ..cmos }]
}

/// Pull-up times cable, pin and one sensor, in nanoseconds.
fn rc_ns(config: &LineConfig) -> f64 {
    let cable_pf = f64::from(config.cable.length_mm) / 1e3 * f64::from(config.cable.pf_per_m);
    f64::from(config.pull_up_ohm.unwrap()) * (cable_pf + 10.0 + 25.0) / 1e3
}

#[test]
fn thresholds_and_cables_give_the_right_number_or_a_name_and_the_number_within_reach() {
    let (mut within, mut numbers, mut names) = (0, 0, 0);
    for (set, timing, reach_ns, parasite_reach_ns) in REACHES {
        for (power, reach_ns) in [(PowerMode::Local, *reach_ns), (PowerMode::Parasite, *parasite_reach_ns)] {
            for thresholds in [Thresholds::typical(), Thresholds::worst_case(power)] {
                for clock in [SensorTiming::fastest(), SensorTiming::typical(), SensorTiming::slowest()] {
                    for (supply_mv, master) in
                        [3_300, 5_000].into_iter().flat_map(|mv| master_inputs().map(|master| (mv, master)))
                    {
                        for length_mm in (500..=40_000).step_by(500) {
                            let desk = short_line(supply_mv, 72);
                            let config = LineConfig { cable: Cable { length_mm, ..desk.cable }, master, ..desk };
                            let case = format!(
                                "{set}, {power:?}, {thresholds:?}, {:?}, {supply_mv} mV, {:?}, {length_mm} mm",
                                clock.values(),
                                master.threshold_high
                            );
                            let sensor = SensorConfig { power, thresholds, ..with_timing(clock) };
                            let must = rc_ns(&config) <= reach_ns;
                            within += u32::from(must);
                            match outcome_at(*timing, config, sensor) {
                                Ok(got) => {
                                    assert_eq!(got, [EXPECTED], "{case}");
                                    numbers += 1;
                                }
                                Err(name) => {
                                    assert!(!must, "{case}: {name}");
                                    let known = NAMES_OF_A_SLOW_LINE.iter().any(|known| name.contains(known));
                                    assert!(known, "{case}: {name}");
                                    names += 1;
                                }
                            }
                        }
                    }
                }
            }
        }
    }
    // 2 sets, 2 supplies of the sensor, 2 thresholds, 3 clocks, 2 supplies, 2 inputs, 80 lengths.
    assert_eq!(numbers + names, 2 * 2 * 2 * 3 * 2 * 2 * 80);
    assert!(within > 1_000 && names > 1_000, "the sweep covers both sides: {within} within reach, {names} named");
}
