//! Rigs: what a scenario runs on, read from a file that people write.
//!
//! A rig file is TOML. It names the sensors that belong on the line and, for a rig in virtual time, says what line and sensors
//! are like; for a real one, what chip it is on and how to reach it, or which serial adapter is the bus master. [`Rig::load`] reads and checks one; whatever is wrong with it comes back as
//! [`InputErrors`](crate::input::InputErrors), all of it, with line and column. Some rigs are built in: [`built_in_rig`].
//!
//! ```
//! # use hil_runner::rig::Rig;
//! let rig = Rig::parse(
//!     "shed.toml",
//!     r#"
//!         rig = "shed"
//!         kind = "virtual"
//!
//!         [line]
//!         supply = "3.3 V"
//!         pull_up = "4.7 kohm"
//!         cable = "3 m"
//!         ambient = "20 degC"
//!
//!         [[sensor]]
//!         label = "left"
//!         rom = "28:112233445566:56"
//!     "#,
//! )?;
//! assert_eq!(rig.inventory.len(), 1);
//! # Ok::<(), hil_runner::input::InputErrors>(())
//! ```
//!
//! # The file
//!
//! Quantities are texts of a number and a unit: `"3.3 V"`. The number has digits and a point, no exponent. Units are
//!
//! | quantity | units |
//! |---|---|
//! | voltage | `mV`, `V` |
//! | resistance | `ohm`, `kohm`, `Mohm`, `Ω`, `kΩ`, `MΩ` |
//! | length | `mm`, `cm`, `m`, `km` |
//! | capacitance per length | `pF/m`, `nF/km`, `nF/m` |
//! | temperature | `mdegC`, `degC`, `°C` |
//! | temperature difference | `mdegC`, `mK`, `degC`, `K`, `°C` |
//! | time | `ns`, `us`, `ms`, `s`, `min`, `h`, `d`, `µs`, `μs` |
//! | share | `ppm`, `%` |
//! | frequency | `Hz`, `kHz`, `MHz` |
//! | rate | `/min`, `/s` |
//! | temperature rate | `mdegC/h`, `degC/h`, `degC/min`, `degC/s`, `K/h`, `K/min`, `K/s`, `°C/h`, `°C/min`, `°C/s` |
//! | charge | `uAh`, `mAh`, `Ah` |
//! | pressure | `Pa`, `hPa`, `mbar`, `kPa`, `bar` |
//!
//! Temperatures may have four decimals, which sixteenths of a degree need, and are rounded to thousandths as readings are.
//! All other quantities must be whole numbers of the smallest unit or the step given. A name is a text of printable
//! characters, not empty. Files have at most 1 MiB, and keys that are not known here are errors.
//!
//! ## the rig file
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `rig` | name of up to 60 characters | required | What the rig is called. |
//! | `kind` | `virtual`, `emulated`, `bridge`, `serial` | required | What the rig is: `virtual` is a line in virtual time, with no hardware; `emulated` is the same line on an emulated chip that runs the real firmware; `bridge` is a real line on a real chip; `serial` is a real line on a serial adapter of this computer, without a chip in between. |
//! | `timing` | `short line`, `long line` | `short line` | Timing set of the bus master: `short line` for short lines, `long line` for long or crowded ones. |
//! | `serial` | name of up to 200 characters | required for `serial` | The port of the serial adapter whose data lines are the bus master, such as /dev/ttyUSB0. A bridge that is reached through a port has it in `[bridge]`, as `port`. |
//! | `strong_pull_up` | `rts`, `dtr` | no strong pull-up | On a serial adapter: the modem line that switches the strong pull-up, through a gate that keeps it open while TX is low. Only with such a gate. |
//! | `reference` | where the temperature of the sensors is known from: `"none", "operator" or "21.4 degC"` | `none` | On a serial adapter: as in `[bridge]`. |
//! | `line` | table, see `[line]` | required for a virtual or emulated rig | What the line of a virtual or emulated rig is made of. |
//! | `bridge` | table, see `[bridge]` | required for a bridge | The chip between host and line, and how to reach it. |
//! | `sensor` | 1 to 500 tables, see `[[sensor]]` | required | The sensors that belong on the line. |
//!
//! ## `[line]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `supply` | voltage, 1 V to 6 V | required | Supply of pull-up and sensors. |
//! | `pull_up` | resistance, 100 ohm to 1 Mohm, or `none` | required | Resistor between line and supply. |
//! | `cable` | length, 0 m to 2 km | required | Length of all cable together. |
//! | `capacitance` | capacitance per length, 0 pF/m to 1 nF/m | `50 pF/m` | Capacitance of the cable, data wire against return. |
//! | `strong_pull_up` | resistance, 1 ohm to 1 kohm, or `none` | `none` | Resistance of the switch that ties the line to the supply while parasite-powered sensors work. |
//! | `clock` | frequency, 1 MHz to 1000 MHz | `72 MHz` | Core clock of the bus master, which decides what its calls cost. An emulated chip runs at 72 MHz from a crystal, or at 8 MHz without one. |
//! | `ambient` | temperature, -55 degC to 125 degC | required | Temperature around all sensors at the start. |
//!
//! ## `[bridge]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `chip` | name of up to 40 characters | required | Part number of the chip, such as STM32F103C8; the firmware comes with the tool for STM32F103, nRF52833 and RP2040. |
//! | `carrier` | `rtt`, `serial` | `rtt` | How requests reach it: `rtt` through its memory by the debug probe, `serial` through a serial port. |
//! | `debug_probe` | name of up to 120 characters | the only one that is connected | Which debug probe, as `VID:PID` or `VID:PID:SERIAL` in hexadecimal; `hil-runner flash --list` shows them. |
//! | `wire` | frequency, 10 kHz to 50 MHz | as the debug probe likes | Clock of the wires between debug probe and chip; slower helps with long ones. |
//! | `port` | name of up to 200 characters | required for `serial` | The serial port, such as /dev/ttyACM0, at 115200 baud. |
//! | `image` | name of up to 400 characters | the one that comes with the tool | Firmware image of one's own, an ELF file; its path is taken from the folder of the rig file. |
//! | `strong_pull_up` | `true` or `false` | `false` | Whether the bridge's switch for the strong pull-up is wired to the line. |
//! | `supply_switch` | `true` or `false` | `false` | Whether the bridge switches the supply of pull-up and sensors. Without it the operator is asked, on a terminal. |
//! | `short_switch` | `true` or `false` | `false` | Whether the bridge can short the line to ground. Without it the operator is asked, on a terminal. |
//! | `reference` | where the temperature of the sensors is known from: `"none", "operator" or "21.4 degC"` | `none` | `operator` asks on a terminal for the reading of another instrument; a temperature is taken for all sensors. |
//!
//! ## `[[sensor]]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `label` | name of up to 60 characters | required | What people call the sensor. Only once on a rig, not `all`, `none` or `rig`, and nothing like a ROM code. |
//! | `rom` | ROM code | required | Its ROM code in wire order: family, serial number, CRC. Only once on a rig. |
//! | `part` | `DS18S20`, `DS1822`, `DS18B20`, `DS1825`, `DS28EA00` | the part of the family code | Its part, which must agree with the family code. |
//! | `power` | `local`, `parasite` | `local` | Whether it has a supply wire of its own or lives on the line. |
//! | `correction` | temperature difference, -5 degC to 5 degC | none | What is added to what it reads, to compensate for a systematic error (correction, VIM 2.53). Only where it is asked for: by `corrected` in a scenario, by `--corrected` of `read` and `scan`. `run --store-corrections` writes it. |
//! | `corrected_at` | name of up to 60 characters | not said | What the correction was found against, such as the ice point. |
//! | `corrected_on` | a date: `"2026-11-25"` | not said | When the correction was found. |
//! | `virtual` | table, see `[sensor.virtual]` | an ideal sensor | How the virtual sensor differs from an ideal one. |
//!
//! ## `[sensor.virtual]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `connected` | `true` or `false` | `true` | Whether it hangs on the line. A rig can be one sensor short. |
//! | `ambient` | temperature, -55 degC to 125 degC | the ambient of the line | Temperature around this sensor at the start. |
//! | `offset` | temperature difference, -50 degC to 50 degC | `0 degC` | What it always reads too much. |
//! | `noise` | temperature difference, 0 degC to 10 degC | `0 degC` | Standard deviation of its readings. |
//! | `lag` | time, 0 ms to 1 d | `0 s` | Time constant with which it follows its surroundings: 63 % of a step. |
//! | `conversion` | share, 1 % to 1000 % | `80 %` | Conversion time, as a share of the longest that the datasheet allows; beyond 100 % it is too slow. |
//! | `resolution` | whole number, 9 to 12 | 12 | Bits of resolution in its EEPROM at the start. Not for a DS18S20, which has no register for it. |
//! | `twin` | table, see `twin` | none | A second sensor with the same ROM code on the line, as no honest maker ships it. No master can tell the two apart. Where they differ, what is read is the wired-AND of both scratchpads. For about 1 in 300 pairs of temperatures (computed) it passes the CRC of eight bits and shows a number of neither, the same however often it is read. Such a pair shows when its temperatures change. |
//!
//! ## `twin`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `ambient` | temperature, -55 degC to 125 degC | the ambient of the line | Temperature around the twin, which stays if that of the first sensor changes. |

mod bridge;
#[cfg(test)]
mod bridge_tests;
mod built_in;
mod correction;
mod edit;
#[cfg(test)]
mod edit_tests;
mod fault;
mod inventory;
pub(crate) mod keys;
mod label;
mod model;
mod read;
mod sensor;
mod serial;
#[cfg(test)]
mod serial_tests;
mod store;
mod suits;
#[cfg(test)]
mod tests;

pub use built_in::{BUILT_IN_RIGS, built_in_rig, built_in_rig_text};
pub use edit::{Change, EditError};
pub use fault::{Fault, FaultKind, Selection};
pub use label::{LabelProblem, check_label};
pub use model::{
    Behaviour, BridgeRig, Correction, ModemLine, ReferenceSource, Rig, RigCarrier, RigKind, Sensor, SerialRig,
    TimingSet, Twin, VirtualLine,
};
pub use store::{RigFile, StoreError};
