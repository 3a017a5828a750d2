//! Which sensors are on a line, held against the inventory of its rig: the first step of every command that works without a scenario.

use slotwise::bus::{RomCode, SearchScope};

use super::dead_line::{hopeless, is_dead};
use slotwise_bench::{Bench, SearchOutcome};
use slotwise_record::{Subject, subject};
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;

/// The sensors of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Survey {
    /// Those that were found, in the order of the search.
    pub found: Vec<Surveyed>,
    /// Those of the inventory that were not.
    pub missing: Vec<Subject>,
    /// What ended the search early.
    pub trouble: Option<Trouble>,
}

/// A sensor that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Surveyed {
    /// Its names.
    pub sensor: Subject,
    /// Whether the inventory has it.
    pub is_listed: bool,
}

impl Survey {
    /// Searches for every sensor.
    ///
    /// # Errors
    /// [`Trouble`] if the whole line is dead, see [`checked`].
    pub fn of(bench: &mut dyn Bench, rig: &Rig) -> Result<Self, Trouble> {
        let found = bench.search(SearchScope::All);
        let SearchOutcome { roms, trouble } = checked(bench, found)?;
        let inventory = &rig.inventory;
        let mut missing: Vec<Subject> = Vec::new();
        for sensor in inventory {
            if !roms.contains(&sensor.rom) && !missing.iter().any(|one| one.rom == sensor.rom) {
                missing.push(subject(inventory, sensor.rom));
            }
        }
        let surveyed = |rom: RomCode| Surveyed {
            sensor: subject(inventory, rom),
            is_listed: inventory.iter().any(|sensor| sensor.rom == rom),
        };
        Ok(Self { found: roms.into_iter().map(surveyed).collect(), missing, trouble })
    }
}

/// What a search for every sensor found. If it failed before it found any, its failure is the line's, whatever kind it is: then the line
/// is searched again.
///
/// # Errors
/// [`Trouble`] if the whole line is dead.
pub fn checked(bench: &mut dyn Bench, found: SearchOutcome) -> Result<SearchOutcome, Trouble> {
    match hopeless(&found) {
        Some(trouble) if trouble.condemns_rig() || is_dead(bench) => Err(trouble),
        Some(_) | None => Ok(found),
    }
}

#[cfg(test)]
mod tests {
    use slotwise_bench::ideal::{IdealBench, rig, rom};
    use slotwise_terms::FailureKind;

    use super::*;

    #[test]
    fn sensors_are_found_listed_or_not_and_each_missing_one_is_named_once() {
        let mut rig = rig(3);
        let mut bench = IdealBench::new(&rig);
        bench.extra = vec![rom(9)];
        rig.inventory.push(slotwise_rig::Sensor { rom: rom(10), ..rig.inventory[0].clone() });
        rig.inventory.push(rig.inventory[3].clone());
        let survey = Survey::of(&mut bench, &rig).unwrap();
        let listed: Vec<bool> = survey.found.iter().map(|one| one.is_listed).collect();
        assert_eq!(listed, [true, true, true, false]);
        assert_eq!(survey.missing.iter().map(|one| one.rom).collect::<Vec<_>>(), [rom(10)]);
        assert_eq!(survey.trouble, None);
    }

    #[test]
    fn a_search_that_finds_no_sensor_and_fails_for_good_is_a_dead_line_whatever_the_failure() {
        let rig = rig(2);
        for kind in [FailureKind::Disturbed, FailureKind::SearchLost, FailureKind::Crc] {
            let mut bench = IdealBench::new(&rig);
            bench.trouble = Some((u32::MAX, Trouble::failed(kind, "again and again")));
            assert_eq!(Survey::of(&mut bench, &rig).unwrap_err().kind(), Some(kind));
            bench.trouble = Some((1, Trouble::failed(kind, "once")));
            let survey = Survey::of(&mut bench, &rig).unwrap();
            assert_eq!((survey.found.len(), survey.trouble.is_some(), survey.missing.len()), (0, true, 2), "{kind:?}");
        }
    }
}
