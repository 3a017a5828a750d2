//! Rigs: what a scenario runs on, read from a file that people write.
//!
//! A rig file is TOML. It names the sensors that belong on the line and, for a rig in virtual time, says what line and sensors
//! are like. [`Rig::load`] reads and checks one; whatever is wrong with it comes back as
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
//! | `kind` | `virtual` | required | What the rig is: `virtual` is a line in virtual time, with no hardware. |
//! | `timing` | `recommended`, `long line` | `recommended` | Timing set of the bus master: `recommended` for short lines, `long line` for long or crowded ones. |
//! | `line` | table, see `[line]` | required | What the line is made of. |
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
//! | `clock` | frequency, 1 MHz to 1000 MHz | `72 MHz` | Core clock of the bus master, which decides what its calls cost. |
//! | `ambient` | temperature, -55 degC to 125 degC | required | Temperature around all sensors at the start. |
//!
//! ## `[[sensor]]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `label` | name of up to 60 characters | required | What people call the sensor. Only once on a rig, not `all`, `none` or `rig`, and nothing like a ROM code. |
//! | `rom` | ROM code | required | Its ROM code in wire order: family, serial number, CRC. Only once on a rig. |
//! | `part` | `DS18S20`, `DS1822`, `DS18B20`, `DS1825`, `DS28EA00` | the part of the family code | Its part, which must agree with the family code. |
//! | `power` | `local`, `parasite` | `local` | Whether it has a supply wire of its own or lives on the line. |
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
//! | `twin` | table, see `twin` | none | A second sensor with the same ROM code on the line, as no honest maker ships it. Nobody can tell the two apart. |
//!
//! ## `twin`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `ambient` | temperature, -55 degC to 125 degC | the ambient of the line | Temperature around the twin, which stays if that of the first sensor changes. |

mod built_in;
mod inventory;
pub(crate) mod keys;
mod model;
mod read;
mod sensor;
#[cfg(test)]
mod tests;

pub use built_in::{BUILT_IN_RIGS, built_in_rig, built_in_rig_text};
pub use model::{Behaviour, Rig, RigKind, Sensor, TimingSet, Twin, VirtualLine};
