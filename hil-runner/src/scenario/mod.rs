//! Scenarios: what is done on a rig and what must come out, read from a file that people write.
//!
//! A scenario file is TOML: a name, cautions, and steps. Each step has one action and, if you like, a label.
//! [`Scenario::load`] reads one and checks it against a [`Rig`](crate::rig::Rig), so that every sensor it names is there;
//! whatever is wrong with it comes back as [`InputErrors`](crate::input::InputErrors), all of it, with line and column. Some
//! scenarios are built in: [`built_in_scenario`].
//!
//! ```
//! # use hil_runner::rig::built_in_rig;
//! # use hil_runner::scenario::Scenario;
//! # let rig = built_in_rig("cellar").expect("it is built in");
//! let scenario = Scenario::parse(
//!     "bath.toml",
//!     r#"
//!         scenario = "a look at the brine bath"
//!
//!         [[step]]
//!         label = "every sensor of the inventory answers"
//!         find = { times = 3 }
//!
//!         [[step]]
//!         measure = { sensors = "brine bath", near = { reference = "rig", within = "0.5 degC" } }
//!     "#,
//!     &rig,
//! )?;
//! assert_eq!(scenario.steps[1].label, "measure brine bath, together");
//! # Ok::<(), hil_runner::input::InputErrors>(())
//! ```
//!
//! # The file
//!
//! Quantities and names are as in [rig files](crate::rig). Where sensors stand, write `"all"`, `"none"`, a label, a list of
//! labels, or `{ except = ... }` with a label or a list: all but these. A table can be written in braces, or under a heading of
//! its own: `[step.measure]` right below `[[step]]`.
//!
//! What does not go together is an error: two actions in a step; `doubt`, `near` and the like beside `fails`; `agree` for one
//! sensor; `in_time` or no `doubt` where nothing converts; alarm limits that are not in order; a repetition with two bounds,
//! with none, or without end; and a scenario in which no step expects anything, since a run that cannot fail proves nothing.
//!
//! A run must come to its end while somebody waits, and its record must fit in memory. So all steps, repetitions counted, are
//! at most a million, and waits and repetitions together at most 31 days of the rig's time. All work is at most that of
//! 2 000 000 readings of one sensor: to find a sensor counts as one each time, to read it as one, to read it with a
//! conversion of its own or to configure it as two, and 1000 pulses of noise as one. The record has at most 100 000 entries:
//! a step, a sensor found, a reading, and each expectation of it are one each; at a fixed point the readings of its last 40
//! rounds are kept. Of a repetition it keeps as many rounds as
//! there is room for, up to 512 that passed and 512 that failed, and in a repetition inside another one 16 of each; there
//! must be room for three.
//!
//! Before sensors go to a fixed point, or to hot water on a real rig, a caution is shown, and an operator must say that he has
//! read it. A scenario with a steam point and no cautions of its own has ours.
//!
//! ## the scenario file
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `scenario` | name of up to 60 characters | required | What the scenario is called. |
//! | `cautions` | list of up to 20 texts | none | What people must know before it runs; shown first. |
//! | `step` | 1 to 1000 tables, see `[[step]]` | required | What is done, in order. |
//!
//! ## `[[step]]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `label` | name of up to 80 characters | says what is done | What reports call the step. |
//! | `find` | table, see `find` | - | Search the line and compare with the inventory of the rig. |
//! | `configure` | table, see `configure` | - | Write settings, read them back and, if asked, save them. |
//! | `holds` | table, see `holds` | - | Look at the settings that sensors hold, and write nothing. After a power cycle: what their EEPROM holds. |
//! | `measure` | table, see `measure` | - | Convert and read. Always expected: the CRC is right, the number is the published one for its bytes, no doubt. |
//! | `fixed_point` | table, see `fixed_point` | - | Bring sensors to a fixed point, wait until the bath is stable, and hold each against it. They stay there until they are brought elsewhere. |
//! | `alarm_search` | table, see `alarm_search` | - | Search for sensors whose last conversion was at or beyond an alarm limit. |
//! | `power_cycle` | table, see `power_cycle` | - | Take supply and pull-up away for a time. |
//! | `ambient` | table, see `ambient` | - | Change the temperature around sensors. They follow with their lag. |
//! | `inject` | table, see `inject` | - | Break something on purpose. |
//! | `clear` | `short`, `open`, `unplug`, `noise`, `brown_out`, `slow_sensor`, `pull_up`, `bit_errors` | - | Mend every fault of this kind, which must be injected somewhere in the file. |
//! | `wait` | time, 1 ms to 7 d | - | Let time pass. |
//! | `repeat` | table, see `[step.repeat]` | - | Do steps again and again. Repetitions may stand in each other, up to three deep. |
//!
//! ## `find`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `times` | whole number, 1 to 1000 | 1 | How many searches. Each must find the same. |
//! | `expect` | sensors | `all` | Who must be found. Nobody else may be. |
//! | `fails` | one or a list of reasons to fail | it must not fail | Each search must fail, for one of these reasons. |
//!
//! ## `configure`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensors` | sensors | `all` | Whom. At least one. |
//! | `resolution` | whole number, 9 to 12 | as it is | Bits of resolution. A DS18S20 among others keeps what it has; alone it cannot have one. |
//! | `alarm` | table, see `alarm` | as they are | Alarm limits. |
//! | `save` | `no`, `if changed`, `unchanged` | `no` | Whether settings go to EEPROM: written only if they differ, or expected not to differ. |
//! | `fails` | one or a list of reasons to fail | it must not fail | Each sensor must fail, for one of these reasons. |
//!
//! ## `alarm`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `low` | temperature, -55 degC to 125 degC | required | Alarm at this and below, in whole degrees. |
//! | `high` | temperature, -55 degC to 125 degC | required | Alarm at this and above, in whole degrees. |
//!
//! ## `holds`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensors` | sensors | `all` | Whom. At least one. |
//! | `resolution` | whole number, 9 to 12 | any | Bits of resolution that must be there. A DS18S20 among others has none; alone it cannot be asked. |
//! | `alarm` | table, see `alarm` | any | Alarm limits that must be there. |
//!
//! ## `measure`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensors` | sensors | `all` | Whom. At least one. |
//! | `convert` | `together`, `one by one`, `not` | `together` | All at the same time; one after the other, each watched, which also proves a power-on value that was measured; or none: what is read then must carry a doubt or fail. |
//! | `proof` | `each`, `none` | `each` | Each sensor must show that it converted: on its own supply it is started alone and seen busy, and the longest conversion time passes; on parasite power its alarm flag must change. Every scratchpad is read twice. Or nothing is proven: as fast as the sensors are, but a pulse on the line can then leave an old number that looks like a new one. |
//! | `corrected` | `true` or `false` | `false` | `near` and `agree` compare the numbers with the corrections of the rig file added, which each of the sensors must have. All other expectations are about what was read. |
//! | `near` | table or list of tables, see `near` | not asked | Each number lies this near to a reference. |
//! | `agree` | temperature difference, 0 degC to 180 degC | not asked | Largest minus smallest number is at most this. For two sensors and more. |
//! | `published` | `true` or `false` | `false` | The bytes received are a row of the published conversion table. |
//! | `quantised` | `true` or `false` | `false` | Each number is a whole number of steps of the resolution. |
//! | `in_time` | `true` or `false` | `false` | Conversion takes no longer than the datasheet allows at the resolution. |
//! | `doubt` | one or a list of doubts | no doubt is allowed | Each reading carries these doubts. Others are then allowed too. |
//! | `fails` | one or a list of reasons to fail | it must not fail | There is no reading, for one of these reasons. Goes with no other expectation. |
//!
//! ## `near`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `reference` | "rig", a temperature or a sensor: `{ sensor = "a label" }` | required | What to compare with: what the rig itself knows, a fixed point, or a sensor measured in the same step. |
//! | `within` | temperature difference, 0 degC to 180 degC | required | Largest difference. |
//!
//! ## `reference`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensor` | label of a sensor | required | Which sensor to compare with. |
//!
//! ## `fixed_point`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `at` | `ice point`, `steam point` | required | Which fixed point: `ice point`, 0 degC, in a stirred slush of ice and water, both pure (ASTM E563); `steam point`, in the steam over boiling water, whose temperature is that of saturated steam at the pressure (IAPWS-IF97). |
//! | `pressure` | pressure, 500 hPa to 1100 hPa | required at the steam point | Station pressure: what a barometer shows at this place and hour, not reduced to sea level as in forecasts. Altitude alone is not enough: weather moves the steam point by 0.8 degC. Only at the steam point. |
//! | `sensors` | sensors | `all` | Whom. At least one. |
//! | `stable_within` | temperature difference, 0.07 degC to 2 degC | `0.2 degC` | The bath is stirred and stable once the readings of each sensor stay within this span, and neither a sensor nor the distance between warmest and coldest drifts by more than a quarter of it from the earlier half of the time to the later. |
//! | `for` | time, 10 s to 1 h | `2 min` | For how long. What a sensor reads there is the mean of its readings in the later half of this time. |
//! | `give_up_after` | time, 10 s to 4 h | `30 min` | If it is not stable by then, the step fails. Longer than `for`. |
//! | `within` | temperature difference, 0 degC to 180 degC | accuracy limit in the datasheet of each part | Largest difference between the fixed point and what a sensor reads there. |
//!
//! ## `alarm_search`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `expect` | sensors | required | Who must be in alarm. Nobody else may be. |
//!
//! ## `power_cycle`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `off` | time, 1 ms to 1 h | required | For how long. |
//!
//! ## `ambient`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensors` | sensors | `all` | Whom. At least one. |
//! | `to` | temperature, -55 degC to 125 degC | required | To what. |
//!
//! ## `inject`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `short` | resistance, 1 ohm to 100 kohm | - | Line to ground, through this resistance. |
//! | `open` | `behind the master` | - | The wire breaks here. |
//! | `unplug` | sensors | - | These come off the line. |
//! | `noise` | table, see `noise` | - | Pulses on the line at random moments. |
//! | `brown_out` | table, see `brown_out` | - | The supply dips. The step is over when the dip is. |
//! | `slow_sensor` | table, see `slow_sensor` | - | A sensor converts slower than the datasheet allows. |
//! | `pull_up` | resistance, 100 ohm to 1 Mohm | - | The pull-up becomes this one. |
//! | `bit_errors` | table, see `bit_errors` | - | Bits flip while a sensor sends its scratchpad. |
//!
//! ## `noise`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `rate` | rate, 1 /s to 100000 /s | required | Pulses per second of rig time, on average. |
//! | `width` | time, 1 us to 10 ms | required | How long each lasts. |
//!
//! ## `brown_out`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `to` | voltage, 0 V to 6 V | required | To this voltage, below the supply of the rig. |
//! | `lasts` | time, 1 ms to 1 h | required | For how long. |
//!
//! ## `slow_sensor`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensor` | label of a sensor | required | Which sensor. |
//! | `conversion` | share, 101 % to 10000 % | required | Its conversion time, as a share of the longest that the datasheet allows. |
//!
//! ## `bit_errors`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `sensor` | label of a sensor | required | Which sensor. |
//! | `rate` | share, 1 ppm to 100 % | required | In this share of all transfers. |
//!
//! ## `[step.repeat]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `times` | whole number, 1 to 100000 | `lasts` | How many rounds. |
//! | `lasts` | time, 1 ms to 7 d | `times` | Rounds begin until this much of the rig's time has passed. |
//! | `may_fail` | share, 0 % to 99 % | `0 %` | Largest share of rounds that may fail. A round fails if one of its steps does. Only what is lost is forgiven (no reading, a search or a write that failed, a sensor not found); something wrong (a number, a doubt, a time, settings, a stranger) in any round fails the repetition. |
//! | `step` | 1 to 1000 tables, see `[[step.repeat.step]]` | required | The steps of one round. |
//!
//! ## reasons to fail
//!
//! | word | means |
//! |---|---|
//! | `nobody` | No sensor answered the reset. |
//! | `stuck low` | The line is low and stays low. |
//! | `never idle high` | The line rises too slowly. |
//! | `disturbed` | Somebody else drove the line. |
//! | `no strong pull-up` | There is no strong pull-up where parasite power needs one. |
//! | `no answer` | The sensor did not answer. |
//! | `all zeros` | All bits read 0. |
//! | `crc` | A CRC was wrong. |
//! | `impossible configuration` | The configuration byte cannot occur. |
//! | `sign bits` | The sign bits of the temperature disagree. |
//! | `impossible counters` | The counters of a DS18S20 cannot occur. |
//! | `not started` | No sensor was busy after Convert T. |
//! | `still busy` | A sensor was busy for longer than the datasheet allows. |
//! | `not taken` | What was written did not read back. |
//! | `search lost` | A search contradicted itself or fell silent. |
//! | `master too late` | The bus master samples too late after a reset, though the line rises in time. |
//!
//! ## doubts
//!
//! | word | means |
//! |---|---|
//! | `power-on value` | It is the value after power-up, 85 degC, and nothing proves that it was measured. |
//! | `no conversion` | No conversion was waited for. The number may be old. |
//! | `undefined bits` | Bits that are undefined at this resolution were set. |
//! | `reserved bytes` | Reserved bytes are unlike the datasheet. |
//! | `out of range` | It lies outside the operating range of the part. |
//! | `shared family` | Unlike parts share the family code (3Bh). |

mod budget;
mod built_in;
mod fault;
mod fixed_point;
pub(crate) mod kept;
mod keys;
mod label;
mod measure;
mod model;
mod purpose;
mod read;
mod selection;
mod step;
#[cfg(test)]
mod tests;
mod words;
mod work;

pub use crate::rig::{Fault, FaultKind, Selection};
pub use crate::terms::FailureKind;
pub use built_in::{BUILT_IN_SCENARIOS, built_in_scenario, built_in_scenario_text};
pub use model::{
    Action, Bound, Convert, Expectation, FixedPointCheck, MAX_ROUNDS, Measure, Proof, Reference, Save, Scenario, Step,
    Values,
};
