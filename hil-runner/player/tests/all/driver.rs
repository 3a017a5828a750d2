//! Our driver as the master of played sensors.

use slotwise::bus::{RomCode, Roster, SearchScope, Target};
use slotwise::thermometer::{AlarmLimits, Saved, Supply, Thermometer, Wait, convert, supply};
use slotwise_player::{Part, SensorConfig, Timing};
use slotwise_virtual_line::{LineConfig, SensorConfig as OtherConfig, VirtualLine};

use crate::played::{Played, crowd};

fn rom(config: &SensorConfig) -> RomCode {
    RomCode::new(config.rom.0).unwrap()
}

#[test]
fn twenty_played_sensors_are_found_and_read_as_they_were_set() {
    let played = Played::new();
    let set = crowd(&played);
    let mut bus = played.bus();
    let mut roster = Roster::<32>::new();
    bus.find(&mut roster, SearchScope::All).unwrap();
    assert_eq!(roster.iter().count(), 20);
    assert_eq!(supply(&mut bus, Target::All).unwrap(), Supply::Local);
    let receipt = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap().receipt;
    for config in &set {
        assert!(roster.iter().any(|found| *found == rom(config)));
        let reading = Thermometer::new(rom(config)).unwrap().read(&mut bus, &receipt).unwrap();
        assert_eq!(reading.temperature.sixteenths(), config.sixteenths, "{config:?}");
    }
}

#[test]
fn every_raw_value_is_read_as_it_was_set() {
    let played = Played::new();
    let conversion_us = [1_000; 4];
    let index = played.add(SensorConfig { conversion_us, ..SensorConfig::new(Part::Ds18b20, 1) });
    let other = played.add(SensorConfig { conversion_us, ..SensorConfig::new(Part::Ds18s20, 2) });
    let mut bus = played.bus();
    let roms = [index, other].map(|index| played.player(|player| player.state(index)).unwrap().rom);
    let parts = roms.map(|rom| Thermometer::new(RomCode::new(rom.0).unwrap()).unwrap());
    for sixteenths in -880..=2_000 {
        for index in [index, other] {
            played.player(|player| player.sensors().set_sixteenths(index, sixteenths)).unwrap();
        }
        let receipt = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap().receipt;
        for part in parts {
            assert_eq!(part.read(&mut bus, &receipt).unwrap().temperature.sixteenths(), sixteenths);
        }
    }
}

#[test]
fn an_alarm_search_finds_those_outside_their_limits() {
    let played = Played::new();
    let set = crowd(&played);
    let mut bus = played.bus();
    for config in &set {
        let limits = AlarmLimits { low: -5, high: 5 };
        Thermometer::new(rom(config)).unwrap().set_limits(&mut bus, limits).unwrap();
    }
    convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap();
    let mut alarmed = Roster::<32>::new();
    bus.find(&mut alarmed, SearchScope::Alarm).unwrap();
    for config in &set {
        // DS18B20 (7/19) T >= TH; DS18S20 (23 pages) T > TH, from the half-degree register.
        let whole = config.sixteenths >> 4;
        let half_up = (config.sixteenths + 4) >> 4;
        let expected = match config.part {
            Part::Ds18s20 => half_up <= -5 || half_up > 5,
            _ => whole <= -5 || whole >= 5,
        };
        assert_eq!(alarmed.iter().any(|found| *found == rom(config)), expected, "{config:?}");
    }
}

#[test]
fn settings_are_saved_and_survive_power() {
    let played = Played::new();
    let config = SensorConfig::new(Part::Ds18b20, 77);
    let index = played.add(config);
    let mut bus = played.bus();
    let thermometer = Thermometer::new(rom(&config)).unwrap();
    let limits = AlarmLimits { low: -20, high: 40 };
    thermometer.set_limits(&mut bus, limits).unwrap();
    assert_eq!(thermometer.save(&mut bus).unwrap(), Saved::Written);
    played.player(|player| player.sensors().power_cycle());
    assert_eq!(thermometer.settings(&mut bus).unwrap().limits, limits);
    let state = played.player(|player| player.state(index)).unwrap();
    assert_eq!((state.eeprom, state.eeprom_writes), ([40, 0xEC, 0x7F], 1));
    assert_eq!(state.scratchpad[..2], [0x50, 0x05], "+85 degC after power");
}

#[test]
fn a_worn_eeprom_takes_no_more_writes() {
    let played = Played::new();
    let config = SensorConfig { endurance: 0, ..SensorConfig::new(Part::Ds18b20, 77) };
    let index = played.add(config);
    let mut bus = played.bus();
    let thermometer = Thermometer::new(rom(&config)).unwrap();
    thermometer.set_limits(&mut bus, AlarmLimits { low: -20, high: 40 }).unwrap();
    assert!(thermometer.save(&mut bus).is_err());
    assert_eq!(played.player(|player| player.state(index)).unwrap().eeprom, [0x4B, 0x46, 0x7F]);
}

#[test]
fn played_and_modelled_sensors_share_a_line() {
    let line = VirtualLine::new(LineConfig::default(), 3).unwrap();
    line.attach(OtherConfig::new(slotwise_virtual_line::Part::Ds18b20, 0x1234)).unwrap();
    let played = Played::on(&line, Timing::typical());
    crowd(&played);
    let mut roster = Roster::<32>::new();
    played.bus().find(&mut roster, SearchScope::All).unwrap();
    assert_eq!(roster.iter().count(), 21);
}

#[test]
fn the_driver_finds_all_with_answers_that_are_ten_microseconds_late() {
    let played = Played::new();
    played.set_latency_ns(9_000);
    crowd(&played);
    let mut roster = Roster::<32>::new();
    played.bus().find(&mut roster, SearchScope::All).unwrap();
    assert_eq!(roster.iter().count(), 20);
}

#[test]
fn the_report_has_what_the_driver_did_and_its_smallest_margins() {
    let played = Played::new();
    let config = SensorConfig::new(Part::Ds18b20, 5);
    played.add(config);
    let mut bus = played.bus();
    let receipt = convert(&mut bus, Target::One(rom(&config)), Wait::Time, 750_000).unwrap().receipt;
    Thermometer::new(rom(&config)).unwrap().read(&mut bus, &receipt).unwrap();
    // A reset keeps the transaction before it.
    bus.reset().unwrap();
    let kept: Vec<_> = played.player(|player| std::iter::from_fn(|| player.report().take()).collect());
    let commands: Vec<_> =
        kept.iter().map(|one| (one.rom_command, one.function, one.addressed, one.rom_bits)).collect();
    assert_eq!(commands, [(Some(0x55), Some(0x44), 1, 64), (Some(0x55), Some(0xBE), 1, 64)]);
    assert!(kept.iter().all(|one| one.rom == config.rom.0));
    assert_eq!(kept[1].answered, 72);
    // DS18B20 (7/19) AC table: tRSTL 480 us, tRSTH 480 us, tLOW0 60 to 120 us, tLOW1 1 to 15 us, tREC 1 us, tSLOT 60 us.
    let margins = played.player(|player| player.report().margins);
    let us = |ticks: u32| ticks / 72;
    assert!((480..=510).contains(&us(margins.reset_low.least)), "{margins:?}");
    assert!(us(margins.reset_high.least) >= 480 && margins.reset_high.count == 2, "{margins:?}");
    assert!(us(margins.low_0.least) >= 60 && us(margins.low_0.most) <= 120, "{margins:?}");
    assert!(us(margins.low_1.least) >= 1 && us(margins.low_1.most) <= 15, "{margins:?}");
    assert!(us(margins.recovery.least) >= 1 && us(margins.slot.least) >= 60, "{margins:?}");
}
