//! A rig after its file has been read and checked: what is on the line, and what the line is.

use std::path::PathBuf;

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use slotwise::bus::RomCode;
use slotwise::line::Timing;
use slotwise::thermometer::{Family, Resolution, Supply};

use slotwise_terms::notation;

/// What a scenario runs on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Rig {
    /// Its name.
    pub name: String,
    /// Timing set of the bus master.
    pub timing: TimingSet,
    /// The sensors that belong on the line.
    pub inventory: Vec<Sensor>,
    /// What the line really is.
    pub kind: RigKind,
}

/// The timing sets of the driver, by name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum TimingSet {
    /// For short lines.
    #[default]
    #[serde(alias = "recommended")]
    ShortLine,
    /// For long or crowded lines.
    LongLine,
}

impl TimingSet {
    /// The set of this name.
    #[must_use]
    pub const fn timing(self) -> Timing {
        match self {
            Self::ShortLine => Timing::SHORT_LINE,
            Self::LongLine => Timing::LONG_LINE,
        }
    }
}

/// The kinds of rig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RigKind {
    /// A line in virtual time.
    Virtual(VirtualLine),
    /// The same line on the pins of an emulated chip, which runs the firmware.
    Emulated(VirtualLine),
    /// A real line on a real bridge.
    Bridge(BridgeRig),
    /// A real line on a serial adapter of this host.
    Serial(SerialRig),
}

impl Rig {
    /// The line of a rig in virtual time.
    #[must_use]
    pub const fn virtual_line(&self) -> Option<&VirtualLine> {
        match &self.kind {
            RigKind::Virtual(line) | RigKind::Emulated(line) => Some(line),
            RigKind::Bridge(_) | RigKind::Serial(_) => None,
        }
    }

    /// Whether this tool flashes its chip.
    #[must_use]
    pub const fn is_flashed(&self) -> bool {
        match &self.kind {
            RigKind::Virtual(_) | RigKind::Serial(_) => false,
            RigKind::Emulated(_) => true,
            RigKind::Bridge(bridge) => matches!(bridge.carrier, RigCarrier::Memory { .. }),
        }
    }

    /// The same rig with the driver on an emulated chip. `None` if it is a real one.
    #[must_use]
    pub fn emulated(self) -> Option<Self> {
        match self.kind {
            RigKind::Virtual(line) | RigKind::Emulated(line) => Some(Self { kind: RigKind::Emulated(line), ..self }),
            RigKind::Bridge(_) | RigKind::Serial(_) => None,
        }
    }

    /// Whether its line is a real one, at which hands are needed.
    #[must_use]
    pub const fn is_real(&self) -> bool {
        match &self.kind {
            RigKind::Virtual(_) | RigKind::Emulated(_) => false,
            RigKind::Bridge(_) | RigKind::Serial(_) => true,
        }
    }
}

/// A bridge and what is wired to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct BridgeRig {
    /// The chip, as its part number.
    pub chip: String,
    /// How frames travel.
    pub carrier: RigCarrier,
    /// The firmware image, if not the one that comes with the tool.
    pub image: Option<PathBuf>,
    /// Whether the switch of the strong pull-up leads to the line.
    pub strong_pull_up: bool,
    /// Whether the supply of pull-up and sensors goes through the bridge's switch.
    pub supply_switch: bool,
    /// Whether the bridge's switch can short the line.
    pub short_switch: bool,
    /// Where the temperature of the sensors is known from.
    pub reference: ReferenceSource,
}

/// A serial adapter that is the bus master, and what is wired to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct SerialRig {
    /// The port.
    pub port: String,
    /// The modem line that switches the strong pull-up; `None` if there is none.
    pub strong_pull_up: Option<ModemLine>,
    /// Where the temperature of the sensors is known from.
    pub reference: ReferenceSource,
}

/// An output of a serial adapter beside its data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ModemLine {
    /// Request to send.
    Rts,
    /// Data terminal ready.
    Dtr,
}

impl ModemLine {
    /// Its name on the adapter.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rts => "RTS",
            Self::Dtr => "DTR",
        }
    }
}

/// How frames travel to a real bridge, and what is needed for it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RigCarrier {
    /// Through the memory of the chip, by a debug probe.
    #[serde(alias = "rtt")]
    Memory {
        /// Which one, as `VID:PID` or `VID:PID:SERIAL`; the only one if not given.
        debug_probe: Option<String>,
        /// Clock of its wire, in kilohertz, if not its own choice.
        wire_khz: Option<u32>,
    },
    /// Through a serial port.
    Serial {
        /// The port.
        port: String,
    },
}

/// Where the temperature of the sensors is known from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ReferenceSource {
    /// It is not known.
    #[default]
    None,
    /// The operator reads another instrument when asked.
    Operator,
    /// It is this, by an outside reading.
    Millicelsius(i32),
}

/// One sensor of the inventory.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Sensor {
    /// What people call it. Unique on the rig.
    pub label: String,
    /// Its ROM code. Unique on the rig.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub rom: RomCode,
    /// Its part; agrees with the family code.
    #[serde(with = "notation::part")]
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub part: Family,
    /// How it is powered.
    #[cfg_attr(feature = "schema", schemars(with = "notation::SupplyForm"))]
    pub supply: Supply,
    /// What is added to what it reads, where a scenario or a caller asks for it.
    #[serde(default)]
    pub correction: Option<Correction>,
    /// How the virtual sensor behaves. Only on a virtual rig.
    pub behaviour: Behaviour,
}

/// What is added to what a sensor reads, to compensate for a systematic error (JCGM 200:2012, VIM, 2.53).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Correction {
    /// How much, in thousandths of a degree Celsius.
    pub millicelsius: i32,
    /// What it was found against.
    pub at: Option<String>,
    /// On which date (ISO 8601).
    pub on: Option<String>,
}

/// The line of a virtual rig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct VirtualLine {
    /// Supply of line and sensors.
    pub supply_mv: u32,
    /// Pull-up resistor; `None` if there is none.
    pub pull_up_ohm: Option<u32>,
    /// Length of the cable.
    pub cable_mm: u32,
    /// Its capacitance.
    pub cable_pf_per_m: u32,
    /// Resistance of the strong pull-up; `None` if there is none.
    pub strong_pull_up_ohm: Option<u32>,
    /// Core clock of the virtual bus master, which decides what its calls cost.
    pub clock_mhz: u32,
    /// Temperature around all sensors at the start.
    pub ambient_millicelsius: i32,
}

/// How a virtual sensor differs from an ideal one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Behaviour {
    /// Whether it hangs on the line. A rig can be one sensor short of its inventory.
    pub connected: bool,
    /// Temperature around this one at the start, if not that of all.
    pub ambient_millicelsius: Option<i32>,
    /// Constant error.
    pub offset_millicelsius: i32,
    /// Standard deviation of its noise.
    pub noise_millicelsius: u32,
    /// Time constant of its case.
    pub lag_ms: u32,
    /// Conversion time, in thousandths of the datasheet maximum.
    pub conversion_permille: u32,
    /// Resolution in its EEPROM at the start.
    #[serde(with = "notation::bits")]
    #[cfg_attr(feature = "schema", schemars(with = "u8"))]
    pub resolution: Resolution,
    /// A second sensor with the same ROM code on the line, if there is one.
    pub twin: Option<Twin>,
}

/// A second virtual sensor that is like the first in everything, its ROM code included, and that no inventory knows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Twin {
    /// Temperature around it at the start, if not that of all.
    pub ambient_millicelsius: Option<i32>,
}

impl Default for Behaviour {
    /// An ideal sensor that takes four fifths of the longest conversion time, as most do.
    fn default() -> Self {
        Self {
            connected: true,
            ambient_millicelsius: None,
            offset_millicelsius: 0,
            noise_millicelsius: 0,
            lag_ms: 0,
            conversion_permille: 800,
            resolution: Resolution::default(),
            twin: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_with_the_old_name_of_the_short_line_set_are_read() {
        let read = |text| serde_json::from_str::<TimingSet>(text).unwrap();
        assert_eq!(read("\"recommended\""), TimingSet::ShortLine);
        assert_eq!(serde_json::to_string(&TimingSet::ShortLine).unwrap(), "\"short-line\"");
    }
}
