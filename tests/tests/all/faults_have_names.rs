//! Faults of line and sensors, and the names the driver gives them. With the fault off, the same line measures.

use crate::desk::{bus, measure_all, read};
use slotwise::Error;
use slotwise::bus::{RomCode, Target};
use slotwise::line::Timing;
use slotwise::thermometer::{Doubt, Evidence, Thermometer, Wait, convert};
use slotwise_virtual_line::{
    Cable, Cpu, Fault, InterruptLoad, LineConfig, LookAlike, Part, SensorConfig, SensorId, VirtualLine,
};

struct Desk {
    line: VirtualLine,
    ids: Vec<SensorId>,
    roms: Vec<RomCode>,
}

fn desk_with(config: LineConfig, sensors: Vec<SensorConfig>) -> Desk {
    let line = VirtualLine::new(config, 11).unwrap();
    let roms = sensors.iter().map(|sensor| RomCode::new(sensor.rom.bytes()).unwrap()).collect();
    let ids = sensors.into_iter().map(|sensor| line.attach(sensor).unwrap()).collect();
    Desk { line, ids, roms }
}

fn two_sensors() -> Desk {
    let config = LineConfig { cpu: Cpu::at_mhz(72), ambient_millicelsius: 10_125, ..LineConfig::default() };
    desk_with(config, [1, 2].map(|serial| SensorConfig::new(Part::Ds18b20, serial)).into())
}

/// Runs with the fault in, then with it cleared.
fn with_and_without(desk: &Desk, fault: Fault) -> (String, usize) {
    let id = desk.line.inject(fault).unwrap();
    let mut bus = bus(&desk.line, Timing::SHORT_LINE);
    let error = measure_all(&mut bus, Wait::Poll).unwrap_err();
    desk.line.clear(id);
    desk.line.advance_ns(20_000_000);
    let readings = measure_all(&mut bus, Wait::Poll).unwrap();
    assert!(readings.iter().all(|(_, reading)| reading.is_trusted() && reading.temperature.to_string() == "10.125"));
    (error, readings.len())
}

#[test]
fn each_electrical_fault_has_its_own_error() {
    let desk = two_sensors();
    for (fault, name) in [
        (
            Fault::Short { ohm: 1 },
            "search: line stuck low: a short, no supply, or a pull-up that is missing or far too weak",
        ),
        (
            Fault::PullUp { ohm: None },
            "search: line stuck low: a short, no supply, or a pull-up that is missing or far too weak",
        ),
        (Fault::SupplyOff, "search: line stuck low: a short, no supply, or a pull-up that is missing or far too weak"),
        (Fault::PullUp { ohm: Some(80_000) }, "search: line never idle high in time: pull-up too weak for this cable"),
        (Fault::Open { position_mm: 0 }, "search: no sensor answered the reset"),
    ] {
        assert_eq!(with_and_without(&desk, fault.clone()), (name.to_owned(), 2), "{fault:?}");
    }
}

#[test]
fn a_weak_pull_up_on_30_m_of_cable_is_named_and_the_right_one_measures() {
    let config = |ohm, length_mm| LineConfig {
        pull_up_ohm: Some(ohm),
        cable: Cable { length_mm, pf_per_m: 50 },
        cpu: Cpu::at_mhz(72),
        ..LineConfig::default()
    };
    let measured = |ohm, length_mm, timing| {
        let sensors = [1, 2, 3].map(|serial| SensorConfig::new(Part::Ds18b20, serial));
        let desk = desk_with(config(ohm, length_mm), sensors.into());
        let mut bus = bus(&desk.line, timing);
        measure_all(&mut bus, Wait::Poll).map(|readings| readings.len())
    };
    let weak = Err("search: line never idle high in time: pull-up too weak for this cable".to_owned());
    assert_eq!(measured(47_000, 30_000, Timing::LONG_LINE), weak);
    assert_eq!(measured(47_000, 30_000, Timing::SHORT_LINE), weak);
    assert_eq!(measured(2_200, 30_000, Timing::LONG_LINE), Ok(3));
    // Pull-up sizing, computed: 4.7 kohm at 3.3 V carry about 35 m at 50 pF/m.
    assert_eq!(measured(4_700, 25_000, Timing::LONG_LINE), Ok(3));
}

#[test]
fn an_unplugged_sensor_is_missing_by_name_and_the_other_goes_on() {
    let desk = two_sensors();
    let mut bus = bus(&desk.line, Timing::SHORT_LINE);
    let fault = desk.line.inject(Fault::Unplug { sensor: desk.ids[0] }).unwrap();
    assert_eq!(bus.is_present(desk.roms[0]), Ok(false));
    assert_eq!(bus.is_present(desk.roms[1]), Ok(true));
    let converted = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap();
    assert_eq!(
        read(&mut bus, desk.roms[0], &converted.receipt),
        Err("read: the sensor did not answer (all bits read 1)".to_owned())
    );
    assert!(read(&mut bus, desk.roms[1], &converted.receipt).is_ok());
    // Plugged in again it has powered up anew: 85 degC, with the doubt.
    desk.line.clear(fault);
    desk.line.advance_ns(10_000_000);
    let reading = read(&mut bus, desk.roms[0], &converted.receipt).unwrap();
    assert_eq!(reading.temperature.to_string(), "85");
    assert!(reading.doubts.contains(Doubt::PowerOnValue));
}

#[test]
fn a_slow_sensor_is_still_busy() {
    let desk = two_sensors();
    let slow = Fault::SlowSensor { sensor: desk.ids[1], oscillator_ppm: 0, conversion_permille: 1_600 };
    let (error, _) = with_and_without(&desk, slow);
    assert!(error.starts_with("convert: still converting after 9"), "{error}");
}

#[test]
fn flipped_bits_are_a_crc_error_and_read_again_they_are_gone() {
    let desk = two_sensors();
    for bit in [0, 7, 33, 71] {
        let (error, _) = with_and_without(&desk, Fault::FlippedBit { sensor: desk.ids[0], bit });
        assert!(error.starts_with("read: CRC is "), "{error}");
    }
}

#[test]
fn a_copy_that_saves_nothing_did_not_take() {
    let save = |look_alike: Vec<LookAlike>| {
        let config = LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() };
        let sensor = SensorConfig { look_alike, ..SensorConfig::new(Part::Ds18b20, 5) };
        let desk = desk_with(config, vec![sensor]);
        let mut bus = bus(&desk.line, Timing::SHORT_LINE);
        let sensor = Thermometer::new(desk.roms[0]).unwrap();
        sensor.set_limits(&mut bus, slotwise::thermometer::AlarmLimits { low: -5, high: 14 }).unwrap();
        sensor.save(&mut bus)
    };
    assert!(save(Vec::new()).is_ok());
    assert!(matches!(save(vec![LookAlike::CopySavesNothing]), Err(Error::NotSaved { .. })));
}

#[test]
fn reserved_bytes_of_a_look_alike_are_a_doubt() {
    let config = LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() };
    let sensor = SensorConfig {
        look_alike: vec![LookAlike::ReservedBytes([0x00, 0x0C, 0x10])],
        ..SensorConfig::new(Part::Ds18b20, 5)
    };
    let desk = desk_with(config, vec![sensor]);
    let readings = measure_all(&mut bus(&desk.line, Timing::SHORT_LINE), Wait::Poll).unwrap();
    assert!(readings[0].1.doubts.contains(Doubt::ReservedBytes));
}

#[test]
fn two_sensors_with_one_rom_code_never_give_a_wrong_number() {
    let config = LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() };
    let twin = SensorConfig::new(Part::Ds18b20, 9);
    let desk = desk_with(config, vec![twin.clone(), twin]);
    desk.line.set_sensor_ambient_millicelsius(desk.ids[0], Some(-10_125)).unwrap();
    desk.line.set_sensor_ambient_millicelsius(desk.ids[1], Some(25_063)).unwrap();
    desk.line.advance_ns(1_000_000_000_000);
    let error = measure_all(&mut bus(&desk.line, Timing::SHORT_LINE), Wait::Poll).unwrap_err();
    // The search sees one code; what the two send together is damaged.
    assert!(error.starts_with("read: "), "{error}");
}

#[test]
fn noise_ends_in_named_errors_or_right_numbers() {
    let desk = two_sensors();
    let noise = Fault::Noise {
        pulses_per_second: 60,
        width_ns: 20_000,
        pulse: slotwise_virtual_line::NoisePulse::PullsLow { ohm: 20 },
    };
    desk.line.inject(noise).unwrap();
    let mut bus = bus(&desk.line, Timing::SHORT_LINE);
    let (mut right, mut named) = (0, 0);
    for _ in 0..200 {
        for rom in &desk.roms {
            let Ok(converted) = convert(&mut bus, Target::One(*rom), Wait::Poll, 750_000) else {
                named += 1;
                continue;
            };
            match read(&mut bus, *rom, &converted.receipt) {
                Ok(reading) => {
                    assert!(reading.temperature.to_string() == "10.125" || !reading.is_trusted(), "{reading:?}");
                    right += 1;
                }
                Err(_) => named += 1,
            }
        }
    }
    assert!(right > 20 && named > 20, "{right} readings, {named} named errors: the noise bites");
}

#[test]
fn interrupts_damage_slots_without_the_mask_and_none_with_it() {
    let desk = two_sensors();
    desk.line.set_interrupt_load(Some(InterruptLoad { per_second: 2_000, lost_ns: 40_000 })).unwrap();
    let mut masked = bus(&desk.line, Timing::SHORT_LINE);
    for _ in 0..20 {
        let readings = measure_all(&mut masked, Wait::Poll).unwrap();
        assert!(readings.iter().all(|(_, reading)| reading.is_trusted()));
    }
    let statistics = desk.line.mask_statistics();
    assert!(statistics.interrupts > 1_000, "the load bites: {statistics:?}");
    // Twenty rounds of two search passes, a conversion and two readings: a span while each of their resets rises, in which nothing falls.
    assert_eq!(statistics.spans_without_edge, 20 * 5, "masked inside slots, and once in a reset: {statistics:?}");
    assert!(statistics.most_edges <= 2, "never across two slots: {statistics:?}");
    assert!(statistics.longest_ns < 65_000, "{statistics:?}");

    let pins = slotwise::line::PinLine::new(desk.line.pin(), desk.line.delay(), Timing::SHORT_LINE).unwrap();
    let mut unmasked = slotwise::bus::Bus::new(pins.with_overhead(crate::desk::overhead(&desk.line)).unwrap());
    let failed = (0..20).filter(|_| {
        let found: Result<Vec<RomCode>, _> = unmasked.search(slotwise::bus::SearchScope::All).collect();
        found.as_deref() != Ok(&desk.roms[..]) && found.as_ref().map(Vec::len) != Ok(2)
    });
    assert!(failed.count() > 10, "without the mask the same load is fatal");
}

#[test]
fn the_time_a_poll_reports_is_the_time_the_sensor_took() {
    for (wait_permille, timing) in [(800, Timing::SHORT_LINE), (1_000, Timing::LONG_LINE), (430, Timing::LONG_LINE)] {
        let config = LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() };
        let sensor = SensorConfig { conversion_permille: wait_permille, ..SensorConfig::new(Part::Ds18b20, 5) };
        let desk = desk_with(config, vec![sensor]);
        let mut bus = bus(&desk.line, timing);
        let converted = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap();
        let busy_us = i64::from(converted.busy_us.unwrap());
        let truth_us = i64::from(wait_permille) * 750;
        // Within the first slot on one side, one wait and slot on the other, and a thousandth for the calls in between.
        assert!((-100..=1_100 + truth_us / 1_000).contains(&(busy_us - truth_us)), "{busy_us} us for {truth_us} us");
    }
}

/// A sensor whose supply dips for 200 us at this time after Convert T, measured by `measure`.
fn with_a_dip_at<T>(
    after_ms: u64,
    millicelsius: i32,
    measure: impl FnOnce(&mut crate::desk::DeskBus, RomCode) -> T,
) -> T {
    let config = LineConfig { cpu: Cpu::at_mhz(72), ambient_millicelsius: millicelsius, ..LineConfig::default() };
    let desk = desk_with(config, vec![SensorConfig::new(Part::Ds18b20, 5)]);
    let mut bus = bus(&desk.line, Timing::SHORT_LINE);
    let start_ns = desk.line.now_ns() + after_ms * 1_000_000;
    desk.line.schedule_for(start_ns, 200_000, Fault::BrownOut { supply_mv: 1_500 }).unwrap();
    measure(&mut bus, desk.roms[0])
}

#[test]
fn a_dip_of_the_supply_in_mid_conversion_never_makes_a_trusted_number() {
    for after_ms in [30, 50, 100, 300, 500, 590] {
        let reading = with_a_dip_at(after_ms, 20_000, |bus, rom| {
            let converted = convert(bus, Target::One(rom), Wait::Poll, 750_000).unwrap();
            read(bus, rom, &converted.receipt).unwrap()
        });
        assert_eq!(reading.temperature.to_string(), "85", "{after_ms} ms: reset to the power-on value");
        assert!(reading.doubts.contains(Doubt::PowerOnValue), "{after_ms} ms: {reading:?}");

        // With a mark, the reset itself is found.
        let proven = with_a_dip_at(after_ms + 100, 20_000, |bus, rom| {
            Thermometer::new(rom).unwrap().convert_proven(bus, Wait::Poll, 750_000).unwrap()
        });
        assert_eq!(proven.evidence, Evidence::None, "{after_ms} ms");
        assert!(proven.doubts.contains(Doubt::PowerOnValue), "{after_ms} ms: {proven:?}");
    }
}

#[test]
fn a_genuine_85_degrees_can_be_proven() {
    let config = LineConfig { cpu: Cpu::at_mhz(72), ambient_millicelsius: 85_000, ..LineConfig::default() };
    for part in [Part::Ds18b20, Part::Ds18s20] {
        let desk = desk_with(config, vec![SensorConfig::new(part, 5)]);
        let mut bus = bus(&desk.line, Timing::SHORT_LINE);
        let sensor = Thermometer::new(desk.roms[0]).unwrap();
        let before = sensor.settings(&mut bus).unwrap();
        let seen = convert(&mut bus, Target::One(desk.roms[0]), Wait::Poll, 750_000).unwrap();
        assert!(!sensor.read(&mut bus, &seen.receipt).unwrap().is_trusted(), "seen busy is not enough");
        let proven = sensor.convert_proven(&mut bus, Wait::Poll, 750_000).unwrap();
        assert_eq!((proven.temperature.to_string().as_str(), proven.evidence), ("85", Evidence::Proven));
        assert!(proven.is_trusted());
        assert_eq!(proven.settings, before, "settings are as before");
        assert_eq!(sensor.settings(&mut bus).unwrap(), before);
        assert_eq!(desk.line.inspect(desk.ids[0]).unwrap().eeprom_writes, 0);
        // Waited for by time, it is the alarm flag that shows the conversion, from either state.
        for _ in 0..2 {
            let waited = sensor.convert_proven(&mut bus, Wait::Time, 750_000).unwrap();
            assert!(waited.is_trusted(), "{waited:?}");
            assert_eq!(sensor.settings(&mut bus).unwrap(), before);
        }
    }
}

#[test]
fn the_power_of_a_missing_sensor_is_not_local() {
    let desk = two_sensors();
    let mut bus = bus(&desk.line, Timing::SHORT_LINE);
    let sensor = Thermometer::new(desk.roms[0]).unwrap();
    assert!(sensor.supply(&mut bus).is_ok());
    desk.line.inject(Fault::Unplug { sensor: desk.ids[0] }).unwrap();
    assert!(sensor.supply(&mut bus).is_err());
}
