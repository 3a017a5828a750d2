//! Settings of many sensors at once, and the address pins of a DS1825, on the virtual line.

use crate::desk::bus;
use slotwise::Error;
use slotwise::bus::{FamilyCode, RomCode};
use slotwise::line::Timing;
use slotwise::thermometer::{
    AlarmLimits, Family, FrameError, Resolution, Settings, Thermometer, UnknownFamily, write_all,
};
use slotwise_virtual_line::{Cpu, LineConfig, LookAlike, Part, SensorConfig, VirtualLine};

const WANTED: Settings = Settings { limits: AlarmLimits { low: -5, high: 30 }, resolution: Some(Resolution::Bits10) };

fn desk(sensors: Vec<SensorConfig>) -> (VirtualLine, Vec<RomCode>) {
    let line = VirtualLine::new(LineConfig { cpu: Cpu::at_mhz(72), ..LineConfig::default() }, 17).unwrap();
    let roms = sensors.iter().map(|sensor| RomCode::new(sensor.rom.bytes()).unwrap()).collect();
    for sensor in sensors {
        line.attach(sensor).unwrap();
    }
    (line, roms)
}

fn four_parts() -> Vec<SensorConfig> {
    let parts = [Part::Ds18b20, Part::Ds1822, Part::Ds1825, Part::Ds28ea00];
    parts.into_iter().zip(1..).map(|(part, serial)| SensorConfig::new(part, serial)).collect()
}

#[test]
fn one_write_sets_every_sensor_and_each_is_read_back() {
    let (line, roms) = desk(four_parts());
    let mut bus = bus(&line, Timing::SHORT_LINE);
    let mut taken = Vec::new();
    for (rom, outcome) in write_all(&mut bus, &roms, WANTED).unwrap() {
        assert_eq!(outcome, Ok(()), "{rom}");
        taken.push(rom);
    }
    assert_eq!(taken, roms, "each of them, in the order of the roster");
    for rom in roms {
        assert_eq!(Thermometer::new(rom).unwrap().settings(&mut bus), Ok(WANTED));
    }
}

#[test]
fn a_sensor_that_did_not_take_the_settings_is_named_with_what_it_holds() {
    let mut sensors = four_parts();
    sensors[1].look_alike.push(LookAlike::ConfigurationFixed);
    let (line, mut roms) = desk(sensors);
    let missing = SensorConfig::new(Part::Ds18b20, 99);
    roms.push(RomCode::new(missing.rom.bytes()).unwrap());
    let mut bus = bus(&line, Timing::SHORT_LINE);
    let failed: Vec<_> = write_all(&mut bus, &roms, WANTED)
        .unwrap()
        .filter_map(|(rom, outcome)| outcome.err().map(|error| (rom, error)))
        .collect();
    let found = Settings { resolution: Some(Resolution::Bits12), ..WANTED };
    assert_eq!(
        failed,
        [(roms[1], Error::NotTaken { wrote: WANTED, found }), (roms[4], Error::Frame(FrameError::NoAnswer))]
    );
}

#[test]
fn families_without_resolution_have_settings_of_their_own() {
    let sensors: Vec<_> = [1, 2].map(|serial| SensorConfig::new(Part::Ds18s20, serial)).into();
    let (line, roms) = desk(sensors);
    let mut bus = bus(&line, Timing::SHORT_LINE);
    let limits_alone = Settings { resolution: None, ..WANTED };
    assert!(write_all(&mut bus, &roms, limits_alone).unwrap().all(|(_, outcome)| outcome.is_ok()));
    assert_eq!(Thermometer::new(roms[1]).unwrap().settings(&mut bus), Ok(limits_alone));
}

#[test]
fn a_roster_that_one_command_cannot_serve_is_refused_before_anything_is_written() {
    let mut sensors = four_parts();
    sensors.push(SensorConfig::new(Part::Ds18s20, 5));
    let (line, mut roms) = desk(sensors);
    let mut bus = bus(&line, Timing::SHORT_LINE);
    let before: Vec<_> = roms.iter().map(|rom| Thermometer::new(*rom).unwrap().settings(&mut bus).unwrap()).collect();
    let now_ns = line.now_ns();
    // With the DS18S20, which has no configuration register, among them.
    for settings in [WANTED, Settings { resolution: None, ..WANTED }] {
        assert_eq!(write_all(&mut bus, &roms, settings).err(), Some(Error::WrongSettings));
    }
    // A device of another kind may take Write Scratchpad for a command of its own. (26h has no thermometer's layout.)
    roms.truncate(4);
    roms.push("26:112233445566:29".parse().unwrap());
    assert_eq!(write_all(&mut bus, &roms, WANTED).err(), Some(Error::Family(UnknownFamily(FamilyCode(0x26)))));
    assert_eq!(line.now_ns(), now_ns, "the line was not touched");
    for (rom, settings) in roms.iter().zip(before).take(4) {
        assert_eq!(Thermometer::new(*rom).unwrap().settings(&mut bus), Ok(settings));
    }
}

#[test]
fn a_ds1825_says_at_which_place_it_is_whatever_is_written_to_it() {
    let sensors = (0..16).map(|pins| {
        let sensor = SensorConfig::new(Part::Ds1825, u64::from(pins) + 1);
        SensorConfig { address_pins: pins, ..sensor }
    });
    let (line, roms) = desk(sensors.collect());
    let mut bus = bus(&line, Timing::SHORT_LINE);
    for _ in 0..2 {
        for (rom, pins) in roms.iter().zip(0..) {
            let scratchpad = Thermometer::new(*rom).unwrap().read_scratchpad(&mut bus).unwrap();
            assert_eq!(scratchpad.address_pins(Family::Ds1825), Some(pins));
            assert_eq!(scratchpad.address_pins(Family::Ds18b20), None, "no other family has such pins");
        }
        assert!(write_all(&mut bus, &roms, WANTED).unwrap().all(|(_, outcome)| outcome.is_ok()));
    }
}
