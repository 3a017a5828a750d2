//! A model of scratchpad and EEPROM walks beside the driver: random operations on both, compared after each.

use proptest::prelude::*;
use slotwise::bus::{RomCode, Target};
use slotwise::line::Timing;
use slotwise::thermometer::{
    AlarmLimits, CONVERSION_MAX_US, Doubt, Doubts, Evidence, Receipt, Resolution, Saved, Settings, Supply, Thermometer,
    Wait, convert,
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
    /// Half a millisecond without supply: what lives on the line holds out for 960 us.
    Dip,
    Ambient(i32),
    Convert,
    ConvertProven,
    Read,
}

const PARTS: &[Part] = &[Part::Ds18b20, Part::Ds18s20, Part::Ds1822, Part::Ds1825, Part::Ds28ea00];

fn operations() -> impl Strategy<Value = Vec<Operation>> {
    use Operation::{Ambient, Convert, ConvertProven, Dip, Limits, PowerCycle, Read, Recall, Save, Write};
    let operation = prop_oneof![
        any::<(i8, i8)>().prop_map(|(low, high)| Limits(low, high)),
        (0usize..4).prop_map(Operation::Resolution),
        (any::<(i8, i8)>(), 0usize..4).prop_map(|((low, high), index)| Write(low, high, index)),
        Just(Save),
        Just(Save),
        Just(Recall),
        Just(PowerCycle),
        Just(Dip),
        (-55_000i32..=125_000).prop_map(Ambient),
        // Where a genuine temperature has the register of the power-on value, or nearly.
        (84_600i32..=85_400).prop_map(Ambient),
        Just(Ambient(85_000)),
        Just(Convert),
        Just(Convert),
        Just(ConvertProven),
        Just(Read),
    ];
    proptest::collection::vec(operation, 1..40)
}

/// What the sensor holds according to the datasheet, and what the driver has been given of it.
struct Model {
    part: Part,
    power: PowerMode,
    scratchpad: Settings,
    eeprom: Settings,
    writes: u64,
    /// The temperature in the register, as it was converted.
    sixteenths: i16,
    /// What the last conversion returned; none after a power cycle.
    receipt: Receipt,
    evidence: Evidence,
    ambient_millicelsius: i32,
}

/// The power-on value, +85 degC (DS18B20 datasheet (7/19), Figure 9; DS18S20 datasheet, Table 1).
const POWER_ON_SIXTEENTHS: i16 = 85 * 16;

impl Model {
    /// A part fresh from the factory: TH 75, TL 70 (from memory), 12 bits.
    fn of(part: Part, power: PowerMode) -> Self {
        let resolution = (part != Part::Ds18s20).then_some(Resolution::Bits12);
        let factory = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution };
        Self {
            part,
            power,
            scratchpad: factory,
            eeprom: factory,
            writes: 0,
            sixteenths: POWER_ON_SIXTEENTHS,
            receipt: Receipt::NONE,
            evidence: Evidence::None,
            ambient_millicelsius: 25_000,
        }
    }

    fn power_on(&mut self) {
        self.scratchpad = self.eeprom;
        self.sixteenths = POWER_ON_SIXTEENTHS;
        self.receipt = Receipt::NONE;
        self.evidence = Evidence::None;
    }

    /// Bits of the register that are undefined at the resolution in force: 3 at 9 bits, none at 12 (DS18B20 datasheet (7/19),
    /// Figure 4). A DS18S20 always counts to 1/16 degC.
    fn undefined(&self) -> i16 {
        match self.scratchpad.resolution {
            Some(Resolution::Bits9) => 0b111,
            Some(Resolution::Bits10) => 0b011,
            Some(Resolution::Bits11) => 0b001,
            Some(Resolution::Bits12) | None => 0,
        }
    }

    /// The nearest 1/16 degC (assumed of the virtual sensor; no number of whole millidegrees lies half-way), without the bits
    /// that this conversion does not make.
    fn convert(&mut self) {
        let nearest = (self.ambient_millicelsius * 16 + 500).div_euclid(1_000);
        self.sixteenths = i16::try_from(nearest).unwrap() & !self.undefined();
    }

    /// Whether the temperature register is that of the power-on value: 0550h, or 00AAh in half degrees, where the counters
    /// tell eight temperatures apart.
    fn looks_like_power_on(&self) -> bool {
        match self.part {
            Part::Ds18s20 => (self.sixteenths + 4) >> 3 == 0x00AA,
            _ => self.sixteenths == 0x0550,
        }
    }

    /// What the resolution in force leaves of the register: changing it does not change the number that is there, only what of
    /// it counts.
    fn counting(&self) -> i16 {
        self.sixteenths & !self.undefined()
    }

    /// Operating range (datasheets of the parts, features).
    fn range_celsius(&self) -> std::ops::RangeInclusive<f32> {
        match self.part {
            Part::Ds28ea00 => -40.0..=85.0,
            _ => -55.0..=125.0,
        }
    }

    fn doubts(&self) -> Doubts {
        let mut doubts = Doubts::NONE;
        for (doubt, holds) in [
            (Doubt::PowerOnValue, self.looks_like_power_on() && self.evidence != Evidence::Proven),
            (Doubt::NoConversion, self.evidence == Evidence::None),
            (Doubt::UndefinedBits, self.sixteenths & self.undefined() != 0),
            (Doubt::OutOfRange, !self.range_celsius().contains(&(f32::from(self.counting()) / 16.0))),
            (Doubt::SharedFamily, self.part == Part::Ds1825),
        ] {
            if holds {
                doubts.insert(doubt);
            }
        }
        doubts
    }
}

fn walk(part: Part, power: PowerMode, operations: Vec<Operation>) -> Result<(), TestCaseError> {
    let config = LineConfig { cpu: Cpu::at_mhz(72), strong_pull_up_ohm: Some(10), ..LineConfig::default() };
    let line = VirtualLine::new(config, 3).unwrap();
    let sensor = SensorConfig { power, ..SensorConfig::new(part, 42) };
    let rom = RomCode::new(sensor.rom.bytes()).unwrap();
    let id = line.attach(sensor).unwrap();
    let mut bus = crate::desk::powered_bus(&line, Timing::SHORT_LINE);
    let driver = Thermometer::new(rom).unwrap();
    let has_resolution = driver.family().has_resolution();
    let wait = Wait::suits(if power == PowerMode::Local { Supply::Local } else { Supply::Parasite });
    let mut model = Model::of(part, power);

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
                model.power_on();
            }
            Operation::Dip => {
                line.set_supply(SupplyState::Off);
                line.advance_ns(500_000);
                line.set_supply(SupplyState::On);
                line.advance_ns(10_000_000);
                if model.power == PowerMode::Local {
                    model.power_on();
                }
            }
            Operation::Ambient(millicelsius) => {
                model.ambient_millicelsius = millicelsius;
                line.set_ambient_millicelsius(millicelsius);
                line.advance_ns(1_000_000_000_000);
            }
            Operation::Convert => {
                let converted = convert(&mut bus, Target::One(rom), wait, CONVERSION_MAX_US).unwrap();
                let seen = if power == PowerMode::Local { Evidence::SeenBusy } else { Evidence::Waited };
                prop_assert_eq!(converted.receipt.evidence(), seen);
                (model.receipt, model.evidence) = (converted.receipt, seen);
                model.convert();
            }
            Operation::ConvertProven => {
                // Seen busy on a supply of its own; on parasite power its alarm flag changes.
                let reading = driver.convert_proven(&mut bus, wait, CONVERSION_MAX_US).unwrap();
                model.evidence = Evidence::Proven;
                model.convert();
                prop_assert_eq!(reading.evidence, model.evidence);
                prop_assert_eq!(reading.settings, model.scratchpad);
                prop_assert_eq!(reading.doubts, model.doubts());
                // It has read the number itself, and leaves no receipt.
                (model.receipt, model.evidence) = (Receipt::NONE, Evidence::None);
            }
            Operation::Read => {}
        }
        let reading = driver.read(&mut bus, &model.receipt).unwrap();
        prop_assert_eq!(reading.settings, model.scratchpad);
        prop_assert_eq!(reading.evidence, model.evidence);
        prop_assert_eq!(reading.doubts, model.doubts());
        prop_assert_eq!(reading.temperature.sixteenths(), model.counting());
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
        part in proptest::sample::select(PARTS),
        power in prop_oneof![Just(PowerMode::Local), Just(PowerMode::Parasite)],
    ) {
        walk(part, power, operations)?;
    }
}
