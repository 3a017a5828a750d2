//! A round of readings from a rig.

use slotwise::bus::Target;
use slotwise::thermometer::{CONVERSION_MAX_US, Doubt, Supply, Wait};

use super::window::Reading;
use crate::Member;
use crate::datasheet::step_celsius;
use slotwise_bench::Bench;
use slotwise_rig::reply::{Sample, Trouble};
use slotwise_run::is_of_line;

/// From one round to the next. Readings closer together warm a sensor in still air (common practice: one per second, or slower).
const SPACING_US: u64 = 1_000_000;

/// The result of reading one sensor.
#[derive(Clone, Debug, PartialEq)]
pub enum Glance {
    /// A number.
    Read(Reading),
    /// None that can be relied on, and why.
    Nothing(String),
}

impl Glance {
    /// The number.
    #[must_use]
    pub const fn reading(&self) -> Option<Reading> {
        match self {
            Self::Read(reading) => Some(*reading),
            Self::Nothing(_) => None,
        }
    }

    /// Why there is none.
    #[must_use]
    pub fn trouble(&self) -> Option<&str> {
        match self {
            Self::Read(_) => None,
            Self::Nothing(why) => Some(why),
        }
    }
}

/// Has all sensors convert, and reads these.
///
/// # Errors
/// [`Trouble`] if the whole line is dead. A sensor that fails alone is said to.
pub fn look(bench: &mut dyn Bench, members: &[Member]) -> Result<Vec<Glance>, Trouble> {
    let converted =
        bench.supply(Target::All).and_then(|supply| bench.convert(Target::All, wait(supply), CONVERSION_MAX_US));
    let receipt = match converted {
        Ok(converted) => converted.receipt,
        Err(trouble) if is_of_line(bench, &trouble) => return Err(trouble),
        Err(trouble) => return Ok(vec![Glance::Nothing(trouble.to_string()); members.len()]),
    };
    let mut glances = Vec::with_capacity(members.len());
    for member in members {
        glances.push(match bench.read(member.sensor.rom, &receipt) {
            Ok(sample) => glance(&sample),
            Err(trouble) if is_of_line(bench, &trouble) => return Err(trouble),
            Err(trouble) => Glance::Nothing(trouble.to_string()),
        });
    }
    Ok(glances)
}

/// As fast as the sensors are: an old number is one that does not move, and the next round brings another.
const fn wait(supply: Supply) -> Wait {
    match supply {
        Supply::Local => Wait::Poll,
        Supply::Parasite => Wait::StrongPullUp,
    }
}

/// That a family is shared by unlike parts does not matter: a number that follows a hand is a temperature.
fn glance(sample: &Sample) -> Glance {
    let doubt = sample.doubts.iter().find(|doubt| *doubt != Doubt::SharedFamily);
    match doubt {
        Some(doubt) => Glance::Nothing(format!("{} degC: {doubt}", f64::from(sample.sixteenths) / 16.0)),
        None => Glance::Read(Reading {
            celsius: f64::from(sample.sixteenths) / 16.0,
            step_celsius: step_celsius(sample.settings.resolution),
        }),
    }
}

/// Waits until the next round is due.
///
/// # Errors
/// [`Trouble`] if the rig was lost meanwhile.
pub fn pause(bench: &mut dyn Bench, started_ns: u64) -> Result<(), Trouble> {
    let spent_us = bench.now_ns().saturating_sub(started_ns) / 1000;
    match SPACING_US.saturating_sub(spent_us) {
        0 => Ok(()),
        rest_us => bench.wait_us(rest_us),
    }
}
