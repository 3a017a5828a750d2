//! Verdicts on searches: no sensor missing, none extra, the same set every time.

use slotwise::bus::RomCode;

use slotwise_record::{Check, Ruling, Verdict, subject};
use slotwise_rig::Sensor;

/// How often each sensor was found in a number of searches.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    searches: u32,
    found: Vec<(RomCode, u32)>,
}

/// The sensors that a search is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SearchGoal {
    /// All sensors on the line.
    All,
    /// Those in alarm.
    Alarm,
}

impl Tally {
    /// Counts one search.
    pub fn add(&mut self, roms: &[RomCode]) {
        self.searches += 1;
        for rom in roms {
            match self.found.iter_mut().find(|(known, _)| known == rom) {
                Some((_, times)) => *times += 1,
                None => self.found.push((*rom, 1)),
            }
        }
    }

    /// The sensors that were found, and how often each, in the order of the searches.
    #[must_use]
    pub fn found(&self) -> &[(RomCode, u32)] {
        &self.found
    }

    /// How many searches there were.
    #[must_use]
    pub const fn searches(&self) -> u32 {
        self.searches
    }

    fn times(&self, rom: RomCode) -> u32 {
        self.found.iter().find(|(known, _)| *known == rom).map_or(0, |(_, times)| *times)
    }

    /// One verdict for each sensor that was expected or found.
    #[must_use]
    pub fn verdicts(&self, goal: SearchGoal, inventory: &[Sensor], expect: &[usize]) -> Vec<Verdict> {
        let (check, here, not_here) = match goal {
            SearchGoal::All => (Check::Presence, "on the line", "not on the line"),
            SearchGoal::Alarm => (Check::Alarm, "in alarm", "not in alarm"),
        };
        let mut expected: Vec<RomCode> = Vec::new();
        for sensor in expect.iter().filter_map(|index| inventory.get(*index)) {
            if !expected.contains(&sensor.rom) {
                expected.push(sensor.rom);
            }
        }
        let missing_or_there = expected.iter().map(|rom| {
            let ruling = Ruling::met_if(self.times(*rom) == self.searches);
            let verdict = Verdict::new(check, here, "scenario and rig", self.got(*rom), ruling);
            // A missing sensor is lost; an extra one is wrong.
            verdict.lost().about(subject(inventory, *rom))
        });
        let extra = self.found.iter().filter(|(rom, _)| !expected.contains(rom)).map(|(rom, _)| {
            Verdict::new(check, not_here, "scenario and rig", self.got(*rom), Ruling::NotMet)
                .about(subject(inventory, *rom))
        });
        let mut verdicts: Vec<Verdict> = missing_or_there.chain(extra).collect();
        if verdicts.is_empty() {
            let none = format!("no sensor {here}");
            verdicts.push(Verdict::new(check, &*none, "scenario and rig", &*none, Ruling::Met));
        }
        verdicts
    }

    fn got(&self, rom: RomCode) -> String {
        match (self.times(rom), self.searches) {
            (0, 1) => "not found".into(),
            (1, 1) => "found".into(),
            (0, searches) => format!("not found in any of {searches} searches"),
            (times, searches) => format!("found in {times} of {searches} searches"),
        }
    }
}
