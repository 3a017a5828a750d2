//! The keys of a rig file.

use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::form::{Form, Key, Section, Without};
use slotwise_terms::input::quantity::Range;

/// Most sensors on a line.
pub(crate) const MAX_SENSORS: usize = 500;

/// What an element can have and a sensor can report (DS18B20 datasheet (7/19), Table 1: FC90h to 07D0h).
pub const TEMPERATURE: Form = Form::Quantity(Range::new(Dimension::Temperature, -55_000, 125_000));
/// From a dead supply to the most that the pins survive (DS18B20 datasheet (7/19), Absolute Maximum Ratings: 6.0 V).
const SUPPLY_RANGE: Range = Range::new(Dimension::Voltage, 1_000, 6_000);
/// From a resistor that no pin can sink to one that is as good as none.
pub const PULL_UP_RANGE: Range = Range::new(Dimension::Resistance, 100, 1_000_000);

/// Name.
pub static RIG: Key = Key::of_file("rig", "What the rig is called.");
/// Kind.
pub(crate) static KIND: Key = Key {
    name: "kind",
    form: Form::Word(&["virtual", "emulated", "bridge", "serial"]),
    without: Without::Required,
    meaning: "What the rig is: `virtual` is a line in virtual time, with no hardware; `emulated` is the same line on an emulated \
              chip that runs the real firmware; `bridge` is a real line on a real chip; `serial` is a real line on a serial adapter of this \
              computer, without a chip in between.",
};
/// Timing set, in the order of [`super::TimingSet`].
pub static TIMING: Key = Key {
    name: "timing",
    form: Form::Word(&["short line", "long line"]),
    without: Without::Default("short line"),
    meaning: "Timing set of the bus master: `short line` for short lines, `long line` for long or crowded ones.",
};
/// The line.
pub static LINE: Key = Key {
    name: "line",
    form: Form::Table(&LINE_SECTION),
    without: Without::Else("required for a virtual or emulated rig"),
    meaning: "What the line of a virtual or emulated rig is made of.",
};
/// The bridge.
pub static BRIDGE: Key = Key {
    name: "bridge",
    form: Form::Table(&BRIDGE_SECTION),
    without: Without::Else("required for a bridge"),
    meaning: "The chip between host and line, and how to reach it.",
};
/// Serial adapter.
pub(crate) static SERIAL: Key = Key {
    name: "serial",
    form: Form::Name(200),
    without: Without::Else("required for `serial`"),
    meaning: "The port of the serial adapter whose data lines are the bus master, such as /dev/ttyUSB0. A bridge that is reached through a \
              port has it in `[bridge]`, as `port`.",
};
/// Modem line.
pub(crate) static PULL_UP_LINE: Key = Key {
    name: "strong_pull_up",
    form: Form::Word(&["rts", "dtr"]),
    without: Without::Else("no strong pull-up"),
    meaning: "On a serial adapter: the modem line that switches the strong pull-up, through a gate that keeps it open while TX is low. \
              Only with such a gate.",
};
/// Reference on a serial adapter.
pub(crate) static SERIAL_REFERENCE: Key = Key {
    name: "reference",
    form: REFERENCE.form,
    without: Without::Default("none"),
    meaning: "On a serial adapter: as in `[bridge]`.",
};
/// The sensors.
pub static SENSOR: Key = Key {
    name: "sensor",
    form: Form::Tables(&SENSOR_SECTION, MAX_SENSORS),
    without: Without::Else("required for a virtual or emulated rig, and to run a scenario"),
    meaning: "The sensors that belong on the line. The file of a real rig may start without any: `scan` lists \
              those on its line, `identify` writes them into the file.",
};

/// The top of the file.
pub static TOP_SECTION: Section = Section {
    heading: "the rig file",
    keys: &[&RIG, &KIND, &TIMING, &SERIAL, &PULL_UP_LINE, &SERIAL_REFERENCE, &LINE, &BRIDGE, &SENSOR],
};

/// Supply.
pub(crate) static SUPPLY: Key = Key {
    name: "supply",
    form: Form::Quantity(SUPPLY_RANGE),
    without: Without::Required,
    meaning: "Supply of pull-up and sensors.",
};
/// Pull-up.
pub static PULL_UP: Key = Key {
    name: "pull_up",
    form: Form::QuantityOrNone(PULL_UP_RANGE),
    without: Without::Required,
    meaning: "Resistor between line and supply.",
};
/// Cable.
pub(crate) static CABLE: Key = Key {
    name: "cable",
    form: Form::Quantity(Range::new(Dimension::Length, 0, 2_000_000)),
    without: Without::Required,
    meaning: "Length of all cable together.",
};
/// Capacitance of the cable.
pub(crate) static CAPACITANCE: Key = Key {
    name: "capacitance",
    form: Form::Quantity(Range::new(Dimension::CapacitancePerLength, 0, 1_000)),
    without: Without::Default("50 pF/m"),
    meaning: "Capacitance of the cable, data wire against return.",
};
/// Strong pull-up.
pub static STRONG_PULL_UP: Key = Key {
    name: "strong_pull_up",
    form: Form::QuantityOrNone(Range::new(Dimension::Resistance, 1, 1_000)),
    without: Without::Default("none"),
    meaning: "Resistance of the switch that ties the line to the supply while parasite-powered sensors work.",
};
/// Clock.
pub(crate) static CLOCK: Key = Key {
    name: "clock",
    form: Form::Quantity(Range::new(Dimension::Frequency, 1_000_000, 1_000_000_000).in_steps_of(1_000_000)),
    without: Without::Default("72 MHz"),
    meaning: "Core clock of the bus master, which decides what its calls cost. An emulated chip runs at 72 MHz from a crystal, or at \
              8 MHz without one.",
};
/// Ambient temperature.
pub static AMBIENT: Key = Key {
    name: "ambient",
    form: TEMPERATURE,
    without: Without::Required,
    meaning: "Temperature around all sensors at the start.",
};

/// The line.
pub(crate) static LINE_SECTION: Section =
    Section { heading: "[line]", keys: &[&SUPPLY, &PULL_UP, &CABLE, &CAPACITANCE, &STRONG_PULL_UP, &CLOCK, &AMBIENT] };

/// Chip.
pub static CHIP: Key = Key {
    name: "chip",
    form: Form::Name(40),
    without: Without::Required,
    meaning: "Part number of the chip, such as STM32F103C8; the firmware comes with the tool for STM32F103, nRF52833 and RP2040.",
};
/// Carrier.
pub(crate) static CARRIER: Key = Key {
    name: "carrier",
    form: Form::Word(&["memory", "serial"]),
    without: Without::Default("memory"),
    meaning: "How requests reach it: `memory` through its memory by the debug probe, `serial` through a serial port.",
};
/// Debug probe.
pub(crate) static DEBUG_PROBE: Key = Key {
    name: "debug_probe",
    form: Form::Name(120),
    without: Without::Else("the only one that is connected"),
    meaning: "Which debug probe, as `VID:PID` or `VID:PID:SERIAL` in hexadecimal; `hil-runner flash --list` shows them.",
};
/// Clock of the debug probe.
pub(crate) static WIRE: Key = Key {
    name: "wire",
    form: Form::Quantity(Range::new(Dimension::Frequency, 10_000, 50_000_000).in_steps_of(1_000)),
    without: Without::Else("as the debug probe likes"),
    meaning: "Clock of the wires between debug probe and chip; slower helps with long ones.",
};
/// Serial port.
pub(crate) static PORT: Key = Key {
    name: "port",
    form: Form::Name(200),
    without: Without::Else("required for `serial`"),
    meaning: "The serial port, such as /dev/ttyACM0, at 115200 baud.",
};
/// Image.
pub(crate) static IMAGE: Key = Key {
    name: "image",
    form: Form::PATH,
    without: Without::Else("the one that comes with the tool"),
    meaning: "Firmware image of one's own, an ELF file; its path is taken from the folder of the rig file.",
};
/// Strong pull-up of a bridge.
pub(crate) static PULL_UP_SWITCH: Key = Key {
    name: "strong_pull_up",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "Whether the bridge's switch for the strong pull-up is wired to the line.",
};
/// Supply switch.
pub(crate) static SUPPLY_SWITCH: Key = Key {
    name: "supply_switch",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "Whether the bridge switches the supply of pull-up and sensors. Without it the operator is asked, on a terminal.",
};
/// Short switch.
pub(crate) static SHORT_SWITCH: Key = Key {
    name: "short_switch",
    form: Form::YesNo,
    without: Without::Default("false"),
    meaning: "Whether the bridge can short the line to ground. Without it the operator is asked, on a terminal.",
};
/// Reference.
pub static REFERENCE: Key = Key {
    name: "reference",
    form: Form::Special(
        "where the temperature of the sensors is known from",
        "\"none\", \"operator\" or \"21.4 degC\"",
    ),
    without: Without::Default("none"),
    meaning: "`operator` asks on a terminal for the reading of another instrument; a temperature is taken for all sensors.",
};

/// The bridge.
pub(crate) static BRIDGE_SECTION: Section = Section {
    heading: "[bridge]",
    keys: &[
        &CHIP,
        &CARRIER,
        &DEBUG_PROBE,
        &WIRE,
        &PORT,
        &IMAGE,
        &PULL_UP_SWITCH,
        &SUPPLY_SWITCH,
        &SHORT_SWITCH,
        &REFERENCE,
    ],
};

/// Label.
pub static LABEL: Key = Key {
    name: "label",
    form: Form::Name(60),
    without: Without::Required,
    meaning: "What people call the sensor. Only once on a rig, not `all`, `none` or `rig`, and nothing like a ROM code.",
};
/// ROM code.
pub static ROM: Key = Key {
    name: "rom",
    form: Form::Rom,
    without: Without::Required,
    meaning: "Its ROM code in wire order: family, serial number, CRC. Only once on a rig.",
};
/// Part.
pub static PART: Key = Key {
    name: "part",
    form: Form::Word(&["DS18S20", "DS1822", "DS18B20", "DS1825", "DS28EA00"]),
    without: Without::Else("the part of the family code"),
    meaning: "Its part, which must agree with the family code.",
};
/// Power.
pub(crate) static POWER: Key = Key {
    name: "power",
    form: Form::Word(&["local", "parasite"]),
    without: Without::Default("local"),
    meaning: "Whether it has a supply wire of its own or lives on the line.",
};
/// Correction. Chosen: more than the widest accuracy limit of a part, 3 degC (DS1822).
pub(crate) static CORRECTION: Key = Key {
    name: "correction",
    form: Form::Quantity(Range::new(Dimension::TemperatureDifference, -5_000, 5_000)),
    without: Without::Else("none"),
    meaning: "What is added to what it reads, to compensate for a systematic error (correction, VIM 2.53). Only where it is asked \
              for: by `corrected` in a scenario, by `--corrected` of `read` and `scan`. `run --store-corrections` writes it.",
};
/// What it was found against.
pub(crate) static CORRECTED_AT: Key = Key {
    name: "corrected_at",
    form: Form::Name(60),
    without: Without::Else("not said"),
    meaning: "What the correction was found against, such as the ice point.",
};
/// When it was found.
pub(crate) static CORRECTED_ON: Key = Key {
    name: "corrected_on",
    form: Form::Special("a date", "\"2026-11-25\""),
    without: Without::Else("not said"),
    meaning: "When the correction was found.",
};
/// Behaviour of a virtual sensor.
pub(crate) static VIRTUAL: Key = Key {
    name: "virtual",
    form: Form::Table(&VIRTUAL_SECTION),
    without: Without::Else("an ideal sensor"),
    meaning: "How the virtual sensor differs from an ideal one.",
};

/// A sensor.
pub(crate) static SENSOR_SECTION: Section = Section {
    heading: "[[sensor]]",
    keys: &[&LABEL, &ROM, &PART, &POWER, &CORRECTION, &CORRECTED_AT, &CORRECTED_ON, &VIRTUAL],
};

/// Whether it hangs on the line.
pub(crate) static CONNECTED: Key = Key {
    name: "connected",
    form: Form::YesNo,
    without: Without::Default("true"),
    meaning: "Whether it hangs on the line. A rig can be one sensor short.",
};
/// Ambient temperature of one sensor.
pub(crate) static SENSOR_AMBIENT: Key = Key {
    name: "ambient",
    form: TEMPERATURE,
    without: Without::Else("the ambient of the line"),
    meaning: "Temperature around this sensor at the start.",
};
/// Offset.
pub(crate) static OFFSET: Key = Key {
    name: "offset",
    form: Form::Quantity(Range::new(Dimension::TemperatureDifference, -50_000, 50_000)),
    without: Without::Default("0 degC"),
    meaning: "What it always reads too much.",
};
/// Noise.
pub static NOISE: Key = Key {
    name: "noise",
    form: Form::Quantity(Range::new(Dimension::TemperatureDifference, 0, 10_000)),
    without: Without::Default("0 degC"),
    meaning: "Standard deviation of its readings.",
};
/// Lag.
pub(crate) static LAG: Key = Key {
    name: "lag",
    form: Form::Quantity(Range::new(Dimension::Time, 0, 86_400_000_000).in_steps_of(1_000)),
    without: Without::Default("0 s"),
    meaning: "Time constant with which it follows its surroundings: 63 % of a step.",
};
/// Conversion time.
pub(crate) static CONVERSION: Key = Key {
    name: "conversion",
    form: Form::Quantity(Range::new(Dimension::Share, 10_000, 10_000_000).in_steps_of(1_000)),
    without: Without::Default("80 %"),
    meaning: "Conversion time, as a share of the longest that the datasheet allows; beyond 100 % it is too slow.",
};
/// Resolution.
pub static RESOLUTION: Key = Key {
    name: "resolution",
    form: Form::Whole(9, 12),
    without: Without::Else("12"),
    meaning: "Bits of resolution in its EEPROM at the start. Not for a DS18S20, which has no register for it.",
};

/// A second sensor with the same ROM code.
pub(crate) static TWIN: Key = Key {
    name: "twin",
    form: Form::Table(&TWIN_SECTION),
    without: Without::Else("none"),
    meaning: "A second sensor with the same ROM code on the line, as no honest maker ships it. No master can \
              distinguish the two. Where they differ, what is read is the wired-AND of both scratchpads. For about 1 in 300 pairs \
              of temperatures (computed) it passes the CRC of eight bits and shows a number of neither, the same however \
              often it is read. Such a pair shows when its temperatures change.",
};

/// Ambient temperature of the twin.
pub(crate) static TWIN_AMBIENT: Key = Key {
    name: "ambient",
    form: TEMPERATURE,
    without: Without::Else("the ambient of the line"),
    meaning: "Temperature around the twin, which stays if that of the first sensor changes.",
};

/// A second sensor with the same ROM code.
pub(crate) static TWIN_SECTION: Section = Section { heading: "twin", keys: &[&TWIN_AMBIENT] };

/// Behaviour of a virtual sensor.
pub(crate) static VIRTUAL_SECTION: Section = Section {
    heading: "[sensor.virtual]",
    keys: &[&CONNECTED, &SENSOR_AMBIENT, &OFFSET, &NOISE, &LAG, &CONVERSION, &RESOLUTION, &TWIN],
};

/// All sections, in the order of the docs.
#[cfg(test)]
pub static SECTIONS: [&Section; 6] =
    [&TOP_SECTION, &LINE_SECTION, &BRIDGE_SECTION, &SENSOR_SECTION, &VIRTUAL_SECTION, &TWIN_SECTION];
