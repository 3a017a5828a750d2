//! Who takes part: the sensors on the line, with the settings that they hold, which they get back at the end.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{AlarmLimits, Family, Resolution, Settings, Supply};

use slotwise_bench::Bench;
use slotwise_limits::registers::Registers;
use slotwise_record::Subject;
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;
use slotwise_run::is_of_line;
use slotwise_run::survey::{Survey, Surveyed};
use slotwise_terms::notation;

/// A sensor that takes part.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Member {
    /// Its names.
    #[serde(flatten)]
    pub sensor: Subject,
    /// Its part.
    #[serde(serialize_with = "notation::part::serialize")]
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub part: Family,
    /// How it is powered, as it says.
    #[cfg_attr(feature = "schema", schemars(with = "notation::SupplyForm"))]
    pub supply: Supply,
    /// The resolution that it was set to before, and is again; none on a DS18S20.
    pub held_bits: Option<u8>,
    /// All that it was set to before.
    #[serde(skip)]
    pub held: Settings,
}

/// A remark on a sensor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Remark {
    /// Its names.
    #[serde(flatten)]
    pub sensor: Subject,
    /// What.
    pub text: String,
}

/// The sensors on the line.
#[derive(Clone, Debug, PartialEq)]
pub struct Party {
    /// Those that take part.
    pub members: Vec<Member>,
    /// Those that do not, and why.
    pub left_out: Vec<Remark>,
    /// How the line as a whole is powered.
    pub supply: Supply,
}

/// Searches the line, and reads each sensor.
///
/// # Errors
/// [`Trouble`] if the whole line is dead.
pub fn gather(bench: &mut dyn Bench, rig: &Rig) -> Result<Party, Trouble> {
    let Survey { found, missing, trouble } = Survey::of(bench, rig)?;
    let supply = match bench.supply(Target::All) {
        Ok(supply) => supply,
        Err(trouble) if is_of_line(bench, &trouble) => return Err(trouble),
        // A sensor that fails here fails alone below as well.
        Err(_) => Supply::Local,
    };
    let mut party = Party { members: Vec::new(), left_out: Vec::new(), supply };
    for Surveyed { sensor, .. } in found {
        match admit(bench, sensor.rom)? {
            Ok((part, supply, held)) => {
                let held_bits = held.resolution.map(Resolution::bits);
                party.members.push(Member { sensor, part, supply, held_bits, held });
            }
            Err(text) => party.left_out.push(Remark { sensor, text }),
        }
    }
    for sensor in missing {
        let text = match &trouble {
            Some(trouble) => format!("not found; the search ended early: {trouble}"),
            None => "in the inventory, not on the line".into(),
        };
        party.left_out.push(Remark { sensor, text });
    }
    Ok(party)
}

/// What is known of a sensor, or why it cannot take part.
fn admit(bench: &mut dyn Bench, rom: RomCode) -> Result<Result<(Family, Supply, Settings), String>, Trouble> {
    let Some(part) = Family::of(rom) else {
        return Ok(Err(format!("family {} is not decoded", rom.family())));
    };
    let answers = bench.supply(Target::One(rom)).and_then(|supply| Ok((supply, bench.scratchpad(rom)?)));
    let (supply, bytes) = match answers {
        Ok(answers) => answers,
        Err(trouble) if is_of_line(bench, &trouble) => return Err(trouble),
        Err(trouble) => return Ok(Err(trouble.to_string())),
    };
    Ok(match Registers::inspect(part, bytes) {
        Ok(held) => {
            let limits = AlarmLimits { low: held.low, high: held.high };
            Ok((part, supply, Settings { limits, resolution: held.resolution_bits.and_then(Resolution::from_bits) }))
        }
        Err(unsound) => Err(unsound.to_string()),
    })
}

/// Gives these sensors their settings back, and reports those that did not take them. Only the scratchpad is written.
pub(super) fn restore<'m>(bench: &mut dyn Bench, members: impl IntoIterator<Item = &'m Member>) -> Vec<Remark> {
    let mut lost: Option<Trouble> = None;
    let mut remarks = Vec::new();
    for member in members {
        // Behind a lost link no sensor answers; each try would only take its time.
        let trouble = lost.clone().or_else(|| bench.write(member.sensor.rom, member.held).err());
        if let Some(trouble) = trouble {
            let bits = member.held.resolution.map_or_else(String::new, |held| format!(" {} bits", held.bits()));
            let text = format!(
                "its settings were not restored (it held{bits}; what is in EEPROM comes back at the next power-up): {trouble}"
            );
            remarks.push(Remark { sensor: member.sensor.clone(), text });
            lost = matches!(trouble, Trouble::Link { .. }).then_some(trouble);
        }
    }
    remarks
}
