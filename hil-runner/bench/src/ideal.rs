//! A rig for tests of judge and executor: ideal sensors, answered for without a line, and levers to make it lie or fail.
#![allow(missing_docs, clippy::must_use_candidate, clippy::missing_panics_doc)]

use std::collections::BTreeMap;
use std::convert::Infallible;

use slotwise::bus::{Bus, RomCode, SearchScope, Target};
use slotwise::line::{Line, LineError, Presence};
use slotwise::thermometer::{
    AlarmLimits, Doubts, Evidence, Family, Reading, Receipt, Resolution, Round, RoundOver, Saved, Scratchpad, Settings,
    Started, Supply, Temperature, Thermometer, Wait,
};

use super::{Bench, Hands, Pace, SearchOutcome};
use slotwise_rig::reply::{BridgeRecord, Driver, LineRecord, LinkRecord, LogRecord};
use slotwise_rig::reply::{Busy, Converted, Sample, Trouble};
use slotwise_rig::{Behaviour, Rig, RigKind, Sensor, TimingSet, VirtualLine};
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::FailureKind;
use slotwise_terms::Stop;
use slotwise_terms::fixed_point::FixedPoint;

/// A receipt of no bus, which only the data of one can be.
fn receipt(rom: RomCode, evidence: Evidence) -> Receipt {
    let data = serde_json::json!({ "target": Target::One(rom), "conversion": 0, "evidence": evidence });
    serde_json::from_value(data).expect("the fields of a receipt")
}

/// An invented ROM code with a right CRC.
pub fn rom(number: u8) -> RomCode {
    let first_seven = [0x28, number, 0, 0, 0, 0, 0];
    (0..=255)
        .find_map(|crc| {
            let [a, b, c, d, e, f, g] = first_seven;
            RomCode::new([a, b, c, d, e, f, g, crc]).ok()
        })
        .expect("one of 256 bytes is the CRC")
}

/// A rig of so many DS18B20.
pub fn rig(sensors: u8) -> Rig {
    let inventory = (1..=sensors).map(|number| Sensor {
        label: format!("shelf {number}"),
        rom: rom(number),
        part: Family::Ds18b20,
        supply: Supply::Local,
        correction: None,
        behaviour: Behaviour::default(),
    });
    Rig {
        name: "test rig".into(),
        timing: TimingSet::ShortLine,
        inventory: inventory.collect(),
        kind: RigKind::Virtual(VirtualLine {
            supply_mv: 3300,
            pull_up_ohm: Some(4700),
            cable_mm: 1000,
            cable_pf_per_m: 50,
            strong_pull_up_ohm: None,
            clock_mhz: 72,
            ambient_millicelsius: 20_000,
        }),
    }
}

/// What the driver makes of these bytes.
fn interpret(rom: RomCode, bytes: [u8; 9], evidence: Evidence) -> Result<Reading, slotwise::Error<Infallible>> {
    Ok(Thermometer::new(rom)?.interpret(Scratchpad::new(bytes)?, evidence)?)
}

/// A line on which every addressed sensor is busy: the driver's receipts are made on it.
struct BusyLine;

impl Line for BusyLine {
    type Error = Infallible;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        Ok(Presence::Present)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        Ok(bit)
    }

    fn delay_us(&mut self, _: u32) {}

    fn slot_us(&self) -> u32 {
        0
    }

    fn transfer_bits(&mut self, _: u16, _: u8, _: u8) -> Result<u16, LineError<Self::Error>> {
        Ok(0)
    }
}

/// How it answers.
pub struct IdealBench {
    inventory: Vec<Sensor>,
    now_us: u64,
    requests: u32,
    celsius_16: Vec<i16>,
    scratchpads: Vec<(i16, Settings)>,
    eeprom: Vec<Settings>,
    /// Who is in alarm.
    pub alarms: Vec<usize>,
    faults: Vec<FaultKind>,
    /// Sensors that do not answer.
    pub missing: Vec<usize>,
    /// Sensors on the line that the inventory does not list.
    pub extra: Vec<RomCode>,
    /// What the driver says instead of what the bytes mean.
    pub said_16: BTreeMap<usize, i16>,
    /// The doubts that the driver names instead of those that there are.
    pub said_doubts: Option<Doubts>,
    /// What becomes of the temperatures, in sixteenths, before the conversion of this number.
    pub weather: Option<fn(u32, &mut [i16])>,
    conversions: u32,
    bus: Bus<BusyLine>,
    /// Sensors of the round that is under way.
    started: Vec<RomCode>,
    /// What the operator has been warned of.
    pub warned: Vec<String>,
    /// The operator does not want to.
    pub declines: bool,
    /// How its time goes.
    pub pace: Pace,
    /// Conversions change nothing.
    pub stale: bool,
    /// The next so many requests on the line end in this.
    pub trouble: Option<(u32, Trouble)>,
    /// After so many requests that went well.
    pub trouble_after: u32,
    /// Writes go nowhere, and the driver does not notice.
    pub ignores_writes: bool,
    /// How long conversions take.
    pub conversion_us: u32,
    /// Raised after so many requests.
    pub stop_after: Option<(u32, Stop)>,
    /// Whether it can do more than the driver: like a rig on a bench, it cannot.
    pub bare: bool,
}

impl IdealBench {
    pub fn new(rig: &Rig) -> Self {
        let limits = AlarmLimits { low: 70, high: 75 };
        let settings = Settings { limits, resolution: Some(Resolution::Bits12) };
        let count = rig.inventory.len();
        Self {
            inventory: rig.inventory.clone(),
            now_us: 0,
            requests: 0,
            celsius_16: vec![20 * 16; count],
            scratchpads: vec![(85 * 16, settings); count],
            eeprom: vec![settings; count],
            alarms: Vec::new(),
            faults: Vec::new(),
            missing: Vec::new(),
            extra: Vec::new(),
            said_16: BTreeMap::new(),
            said_doubts: None,
            weather: None,
            conversions: 0,
            bus: Bus::new(BusyLine),
            started: Vec::new(),
            warned: Vec::new(),
            declines: false,
            pace: Pace::Virtual,
            stale: false,
            trouble: None,
            trouble_after: 0,
            ignores_writes: false,
            conversion_us: 600_000,
            stop_after: None,
            bare: false,
        }
    }

    fn request(&mut self) -> Result<(), Trouble> {
        self.now_us += 1000;
        self.requests += 1;
        if let Some((after, stop)) = &self.stop_after
            && self.requests > *after
        {
            stop.raise();
        }
        match &mut self.trouble {
            Some((times, trouble)) if *times > 0 && self.requests > self.trouble_after => {
                *times -= 1;
                Err(trouble.clone())
            }
            _ => Ok(()),
        }
    }

    fn measure(&mut self, is_asked: impl Fn(RomCode) -> bool) {
        if let Some(weather) = self.weather {
            weather(self.conversions, &mut self.celsius_16);
        }
        self.conversions += 1;
        for index in 0..self.inventory.len() {
            if is_asked(self.inventory[index].rom) && !self.stale {
                self.scratchpads[index].0 = self.celsius_16[index];
            }
        }
    }

    fn find(&self, rom: RomCode) -> Result<usize, Trouble> {
        let index = self.inventory.iter().position(|sensor| sensor.rom == rom);
        index
            .filter(|index| !self.missing.contains(index) && !self.faults.contains(&FaultKind::Unplug))
            .ok_or_else(|| slotwise::Error::<Infallible>::from(slotwise::thermometer::FrameError::NoAnswer).into())
    }

    fn frame(&self, index: usize) -> [u8; 9] {
        let (sixteenths, settings) = self.scratchpads[index];
        let temperature = Temperature::from_sixteenths(sixteenths);
        *Scratchpad::encode(self.inventory[index].part, temperature, settings).bytes()
    }

    fn control(&mut self) -> Result<(), Trouble> {
        if self.bare { Err(Trouble::not_possible("taking hold of the rig")) } else { Ok(()) }
    }
}

impl Bench for IdealBench {
    fn driver(&self) -> Driver {
        Driver { name: "ideal".into(), version: "0".into() }
    }

    fn bridge(&self) -> BridgeRecord {
        BridgeRecord::default()
    }

    fn link(&self) -> LinkRecord {
        LinkRecord::default()
    }

    fn take_line(&mut self) -> Option<LineRecord> {
        None
    }

    fn take_logs(&mut self) -> Vec<LogRecord> {
        Vec::new()
    }

    fn search(&mut self, scope: SearchScope) -> SearchOutcome {
        if let Err(trouble) = self.request() {
            return SearchOutcome { roms: Vec::new(), trouble: Some(trouble) };
        }
        let there = |index: &usize| self.find(self.inventory[*index].rom).is_ok();
        let roms: Vec<RomCode> = match scope {
            SearchScope::Alarm => {
                self.alarms.iter().filter(|index| there(index)).map(|index| self.inventory[*index].rom).collect()
            }
            SearchScope::All | SearchScope::Family(_) => (0..self.inventory.len())
                .filter(there)
                .map(|index| self.inventory[index].rom)
                .chain(self.extra.iter().copied())
                .collect(),
        };
        if roms.is_empty() && scope != SearchScope::Alarm {
            let trouble = Trouble::failed(FailureKind::NoPresence, "no sensor answered the reset");
            return SearchOutcome { roms, trouble: Some(trouble) };
        }
        SearchOutcome { roms, trouble: None }
    }

    fn is_present(&mut self, rom: RomCode) -> Result<bool, Trouble> {
        self.request()?;
        Ok(self.find(rom).is_ok())
    }

    fn supply(&mut self, _: Target) -> Result<Supply, Trouble> {
        self.request()?;
        Ok(Supply::Local)
    }

    fn scratchpad(&mut self, rom: RomCode) -> Result<[u8; 9], Trouble> {
        self.request()?;
        Ok(self.frame(self.find(rom)?))
    }

    fn read(&mut self, rom: RomCode, receipt: &Receipt) -> Result<Sample, Trouble> {
        let evidence = receipt.evidence();
        self.request()?;
        let index = self.find(rom)?;
        let bytes = self.frame(index);
        let reading = interpret(rom, bytes, evidence)?;
        Ok(Sample {
            bytes,
            sixteenths: self.said_16.get(&index).copied().unwrap_or(reading.temperature.sixteenths()),
            settings: reading.settings,
            doubts: self.said_doubts.unwrap_or(reading.doubts),
            evidence,
        })
    }

    fn write(&mut self, rom: RomCode, settings: Settings) -> Result<(), Trouble> {
        self.request()?;
        let index = self.find(rom)?;
        if !self.ignores_writes {
            self.scratchpads[index].1 = settings;
        }
        Ok(())
    }

    fn save(&mut self, rom: RomCode) -> Result<Saved, Trouble> {
        self.request()?;
        let index = self.find(rom)?;
        let held = self.scratchpads[index].1;
        let saved = if self.eeprom[index] == held { Saved::Unchanged } else { Saved::Written };
        self.eeprom[index] = held;
        Ok(saved)
    }

    fn recall(&mut self, rom: RomCode) -> Result<Settings, Trouble> {
        self.request()?;
        let index = self.find(rom)?;
        self.scratchpads[index].1 = self.eeprom[index];
        Ok(self.eeprom[index])
    }

    fn convert(&mut self, target: Target, _: Wait, _: u32) -> Result<Converted, Trouble> {
        self.request()?;
        if let Target::One(rom) = target
            && self.find(rom).is_err()
        {
            return Err(Trouble::failed(FailureKind::NotStarted, "no sensor started to convert"));
        }
        self.now_us += u64::from(self.conversion_us);
        self.measure(|rom| target == Target::All || target == Target::One(rom));
        // A receipt of no bus: the numbers are what counts here.
        let (rom, evidence) = match target {
            Target::All => (rom(1), Evidence::Waited),
            Target::One(rom) => (rom, Evidence::SeenBusy),
        };
        let receipt = receipt(rom, evidence);
        Ok(Converted { receipt, busy: Some(Busy { us: self.conversion_us, grain_us: 1000 }) })
    }

    fn start(&mut self, rom: RomCode, round: Option<Round>) -> Result<(Round, Started), Trouble> {
        self.request()?;
        self.find(rom).map_err(|_| Trouble::failed(FailureKind::NotStarted, "no sensor started to convert"))?;
        self.started.push(rom);
        let round = round.unwrap_or_else(|| Round::begin(&mut self.bus));
        Ok((round, round.start(&mut self.bus, rom).map_err(slotwise::Error::from)?))
    }

    fn finish_round(&mut self, round: Round, max_us: u32) -> Result<RoundOver, Trouble> {
        self.request()?;
        let started = std::mem::take(&mut self.started);
        self.measure(|rom| started.contains(&rom));
        self.now_us += u64::from(max_us);
        Ok(round.wait(&mut self.bus, max_us).map_err(slotwise::Error::from)?)
    }

    fn prove(&mut self, rom: RomCode, wait: Wait, max_us: u32) -> Result<Sample, Trouble> {
        self.convert(Target::One(rom), wait, max_us)?;
        let index = self.find(rom)?;
        let held = self.scratchpads[index].1;
        self.scratchpads[index].1.limits = slotwise::thermometer::AlarmLimits { low: i8::MIN, high: i8::MAX };
        let sample = self.read(rom, &receipt(rom, Evidence::Proven));
        self.scratchpads[index].1 = held;
        sample
    }
}

impl Hands for IdealBench {
    fn now_ns(&self) -> u64 {
        self.now_us * 1000
    }

    fn pace(&self) -> Pace {
        self.pace
    }

    fn wait_us(&mut self, us: u64) -> Result<(), Trouble> {
        self.now_us += us;
        Ok(())
    }

    fn power_cycle(&mut self, off_ms: u64) -> Result<(), Trouble> {
        self.control()?;
        self.now_us += off_ms * 1000;
        for index in 0..self.inventory.len() {
            self.scratchpads[index] = (85 * 16, self.eeprom[index]);
        }
        Ok(())
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.control()?;
        for sensor in sensors {
            self.celsius_16[*sensor] = i16::try_from(millicelsius * 16 / 1000).expect("a temperature in range");
        }
        Ok(())
    }

    fn warn(&mut self, caution: &str) -> Result<(), Trouble> {
        self.warned.push(caution.to_owned());
        if self.declines { Err(Trouble::not_possible("what the operator was warned of")) } else { Ok(()) }
    }

    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        self.set_ambient(sensors, at.millicelsius())
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        self.control()?;
        self.faults.push(fault.kind());
        Ok(())
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        self.control()?;
        self.faults.retain(|known| *known != kind);
        Ok(())
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        self.control()?;
        Ok(i32::from(self.celsius_16[sensor]) * 1000 / 16)
    }
}
