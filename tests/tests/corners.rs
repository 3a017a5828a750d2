//! Sensors at the corners of the datasheet: all of them work at the recommended timing; just outside they fail with a named
//! error, and never with a wrong number.
#![allow(clippy::unwrap_used)] // helpers of tests

mod desk;

use desk::{bus, measure_all, powered_bus};
use slotwise::line::Timing;
use slotwise::thermometer::Wait;
use slotwise_virtual_line::{
    Cable, Cpu, LineConfig, Part, PowerMode, SensorConfig, SensorTiming, Thresholds, TimingValues, VirtualLine,
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

/// Every number that comes out, or the first error.
fn outcome(config: LineConfig, sensor: SensorConfig) -> Result<Vec<String>, String> {
    let parasite = sensor.power == PowerMode::Parasite;
    let line = VirtualLine::new(config, 7).unwrap();
    line.attach(sensor).unwrap();
    let readings = if parasite {
        measure_all(&mut powered_bus(&line, Timing::RECOMMENDED), Wait::StrongPullUp)
    } else {
        measure_all(&mut bus(&line, Timing::RECOMMENDED), Wait::Poll)
    };
    readings.map(|all| all.iter().map(|(_, reading)| reading.temperature.to_string()).collect())
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
fn every_corner_sensor_works_at_recommended_timing() {
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
        let readings = measure_all(&mut bus(&line, Timing::RECOMMENDED), Wait::Poll).unwrap();
        assert_eq!(readings.len(), 3);
        assert!(readings.iter().all(|(_, reading)| reading.is_trusted()));
    }
}

/// One time of a sensor, and a setter for it.
type Knob = (&'static str, fn(&mut TimingValues, u32), &'static [u32]);

/// Just outside the limits, on the side where a master at recommended timing cannot work any more.
const OUTSIDE: &[Knob] = &[
    // A sensor that lets go of a 0 before the master samples at 13 us: zeros read as ones.
    ("read-0 hold", |values, ns| values.read_zero_hold_ns = ns, &[1_000, 6_000, 12_000]),
    // Samples when a write-0 of 61 us is over, and after it: zeros heard as ones.
    ("late sample", |values, ns| values.write_sample_ns = ns, &[64_000, 70_000, 90_000]),
    // Samples within the 3 us of a write 1: ones heard as zeros.
    ("early sample", |values, ns| values.write_sample_ns = ns, &[500, 2_000]),
    // Holds a 0 into the next slot.
    ("long hold", |values, ns| values.read_zero_hold_ns = ns, &[70_000, 100_000]),
    // Takes the reset pulse of 482 us for something else.
    ("reset detection", |values, ns| values.reset_detect_ns = ns, &[490_000, 600_000]),
    // Takes a write-0 for a reset.
    ("early reset", |values, ns| values.reset_detect_ns = ns, &[40_000, 55_000]),
    // Still present when the first slot begins.
    ("presence width", |values, ns| values.presence_width_ns = ns, &[470_000, 900_000]),
    // Present before the line can be told from a slow one.
    ("early presence", |values, ns| values.presence_delay_ns = ns, &[2_000, 8_000]),
];

#[test]
fn just_outside_the_limits_sensors_fail_by_name() {
    for (name, set, values_ns) in OUTSIDE {
        for ns in *values_ns {
            let mut values = SensorTiming::typical().values();
            set(&mut values, *ns);
            assert!(SensorTiming::new(values).is_err(), "{name} of {ns} ns is legal");
            let sensor = with_timing(SensorTiming::outside_limits(values).unwrap());
            let failed = outcome(short_line(3_300, 72), sensor);
            assert!(failed.is_err(), "{name} of {ns} ns gave {failed:?}");
        }
    }
}

#[test]
fn no_sensor_inside_or_outside_its_limits_gives_a_wrong_number() {
    // A coarse sweep over everything a sensor's clock can do.
    let mut failures = 0;
    for (name, set, _) in OUTSIDE {
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
    // 3.0 to 5.5 V (DS18B20 datasheet (7/19), DC table). Far below, the sensor is off: nobody answers.
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
    let mut bus = bus(&line, Timing::RECOMMENDED);
    for wait in [Wait::Poll, Wait::StrongPullUp] {
        assert!(measure_all(&mut bus, wait).is_err(), "{wait:?}");
    }
    // Waited for by time, the sensor has lost its supply in mid-conversion: power-on value, with the doubt that says so.
    let readings = measure_all(&mut bus, Wait::Time).unwrap();
    assert_eq!(readings[0].1.temperature.to_string(), "85");
    assert!(!readings[0].1.is_trusted());
}
