//! A model of scratchpad and EEPROM walks beside the driver: random operations on both, compared after each.
#![allow(clippy::unwrap_used)] // helpers of tests

mod desk;

use proptest::prelude::*;
use slotwise::bus::{RomCode, Target};
use slotwise::line::Timing;
use slotwise::thermometer::{
    AlarmLimits, Doubt, Evidence, Resolution, Saved, Settings, Supply, Thermometer, Wait, convert,
};
use slotwise_virtual_line::{Cpu, LineConfig, Part, PowerMode, SensorConfig, SupplyState, VirtualLine};

#[derive(Clone, Debug)]
enum Operation {
    Limits(i8, i8),
    Resolution(usize),
    Write(i8, i8, usize),
    Save,
    Recall,
    PowerCycle,
    Ambient(i32),
    Convert,
    Read,
}

fn operations() -> impl Strategy<Value = Vec<Operation>> {
    use Operation::{Ambient, Convert, Limits, PowerCycle, Read, Recall, Save, Write};
    let operation = prop_oneof![
        any::<(i8, i8)>().prop_map(|(low, high)| Limits(low, high)),
        (0usize..4).prop_map(Operation::Resolution),
        (any::<(i8, i8)>(), 0usize..4).prop_map(|((low, high), index)| Write(low, high, index)),
        Just(Save),
        Just(Save),
        Just(Recall),
        Just(PowerCycle),
        (-55_000i32..=125_000).prop_map(Ambient),
        Just(Convert),
        Just(Read),
    ];
    proptest::collection::vec(operation, 1..40)
}

/// What the datasheet says the sensor holds.
struct Model {
    scratchpad: Settings,
    eeprom: Settings,
    writes: u64,
    /// `None`: the power-on value.
    sixteenths: Option<i16>,
    ambient_millicelsius: i32,
}

fn step(model: &Model) -> i32 {
    i32::from(model.scratchpad.resolution.map_or(1, Resolution::step_sixteenths))
}

fn walk(part: Part, power: PowerMode, operations: Vec<Operation>) -> Result<(), TestCaseError> {
    let config = LineConfig { cpu: Cpu::at_mhz(72), strong_pull_up_ohm: Some(10), ..LineConfig::default() };
    let line = VirtualLine::new(config, 3).unwrap();
    let sensor = SensorConfig { power, ..SensorConfig::new(part, 42) };
    let rom = RomCode::new(sensor.rom.bytes()).unwrap();
    let id = line.attach(sensor).unwrap();
    let mut bus = desk::powered_bus(&line, Timing::RECOMMENDED);
    let driver = Thermometer::new(rom).unwrap();
    let has_resolution = driver.family().has_resolution();
    let wait = Wait::suits(if power == PowerMode::Local { Supply::Local } else { Supply::Parasite });
    // A part fresh from the factory: TH 75, TL 70 (from memory), 12 bits.
    let factory = Settings {
        limits: AlarmLimits { low: 70, high: 75 },
        resolution: has_resolution.then_some(Resolution::Bits12),
    };
    let mut model =
        Model { scratchpad: factory, eeprom: factory, writes: 0, sixteenths: None, ambient_millicelsius: 25_000 };

    for operation in operations {
        match operation {
            Operation::Limits(low, high) => {
                model.scratchpad.limits = AlarmLimits { low, high };
                prop_assert_eq!(driver.set_limits(&mut bus, model.scratchpad.limits), Ok(model.scratchpad));
            }
            Operation::Resolution(index) => {
                let set = driver.set_resolution(&mut bus, Resolution::ALL[index]);
                if has_resolution {
                    model.scratchpad.resolution = Some(Resolution::ALL[index]);
                    prop_assert_eq!(set, Ok(model.scratchpad));
                } else {
                    prop_assert!(set.is_err(), "no register for it");
                }
            }
            Operation::Write(low, high, index) => {
                let resolution = has_resolution.then_some(Resolution::ALL[index]);
                model.scratchpad = Settings { limits: AlarmLimits { low, high }, resolution };
                prop_assert_eq!(driver.write(&mut bus, model.scratchpad), Ok(()));
            }
            Operation::Save => {
                let saved = if model.eeprom == model.scratchpad { Saved::Unchanged } else { Saved::Written };
                prop_assert_eq!(driver.save(&mut bus), Ok(saved));
                model.writes += u64::from(saved == Saved::Written);
                model.eeprom = model.scratchpad;
            }
            Operation::Recall => {
                model.scratchpad = model.eeprom;
                prop_assert_eq!(driver.recall(&mut bus), Ok(model.eeprom));
            }
            Operation::PowerCycle => {
                line.set_supply(SupplyState::Off);
                line.advance_ns(100_000_000);
                line.set_supply(SupplyState::On);
                line.advance_ns(10_000_000);
                model.scratchpad = model.eeprom;
                model.sixteenths = None;
            }
            Operation::Ambient(millicelsius) => {
                model.ambient_millicelsius = millicelsius;
                line.set_ambient_millicelsius(millicelsius);
                line.advance_ns(1_000_000_000_000);
            }
            Operation::Convert => {
                convert(&mut bus, Target::One(rom), wait, 750_000).unwrap();
                // Weight 2^-4 degC, low bits dropped (DS18B20 datasheet (7/19), Figure 4).
                let exact = model.ambient_millicelsius * 16;
                let steps = exact.div_euclid(1_000 * step(&model));
                model.sixteenths = Some(i16::try_from(steps * step(&model)).unwrap());
            }
            Operation::Read => {}
        }
        let evidence = if model.sixteenths.is_some() { Evidence::SeenBusy } else { Evidence::None };
        let reading = driver.read(&mut bus, evidence).unwrap();
        prop_assert_eq!(reading.settings, model.scratchpad);
        prop_assert_eq!(reading.doubts.contains(Doubt::PowerOnValue), model.sixteenths.is_none());
        match model.sixteenths {
            // A change of resolution does not change the number that is there, only what of it counts.
            Some(sixteenths) => {
                let difference = i32::from(reading.temperature.sixteenths() - sixteenths);
                let most = step(&model).max(8);
                prop_assert!(difference.abs() <= most, "{} for {sixteenths}/16", reading.temperature);
            }
            None => prop_assert_eq!(reading.temperature.to_string(), "85"),
        }
        let truth = line.inspect(id).unwrap();
        prop_assert_eq!(truth.eeprom_writes, model.writes, "the EEPROM is written only when it would change");
        prop_assert_eq!(truth.eeprom[0].cast_signed(), model.eeprom.limits.high);
        prop_assert_eq!(truth.eeprom[1].cast_signed(), model.eeprom.limits.low);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn the_driver_and_the_model_agree_after_every_step(
        operations in operations(),
        part in prop_oneof![Just(Part::Ds18b20), Just(Part::Ds18s20), Just(Part::Ds1822), Just(Part::Ds1825)],
        power in prop_oneof![Just(PowerMode::Local), Just(PowerMode::Parasite)],
    ) {
        walk(part, power, operations)?;
    }
}
