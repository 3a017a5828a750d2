//! Steps that search the line.

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{Family, Supply};

use super::executor::{Executor, Findings};
use super::halt::Halt;
use crate::judge::{SearchGoal, Tally};
use slotwise_bench::SearchOutcome;
use slotwise_record::{Check, Ruling, Verdict, subject};
use slotwise_record::{Event, Progress};
use slotwise_record::{FoundSensor, StepData};
use slotwise_terms::FailureKind;
use slotwise_terms::reasons_text;

/// Searches that did not come to their end.
#[derive(Debug, Default)]
struct Failures {
    expected: u32,
    others: u32,
    /// Of the others, searches that ended without a failure where one was expected.
    succeeded: u32,
    /// The first outcome that differs from the expected one.
    first: Option<String>,
}

impl Failures {
    fn add_other(&mut self, text: String) {
        self.others += 1;
        self.first.get_or_insert(text);
    }

    /// Verdict on all of `searches`. `None`: there is nothing to say against them, and nothing was to be.
    fn verdict(&self, searches: u32, fails: &[FailureKind]) -> Option<Verdict> {
        let (check, expected, so) = if fails.is_empty() {
            (Check::Search, "every search to its end".to_owned(), searches - self.others)
        } else {
            (Check::Fails, reasons_text(fails), self.expected)
        };
        match &self.first {
            None if fails.is_empty() => None,
            None => Some(Verdict::new(
                check,
                expected,
                "scenario",
                format!("{so} of {searches} searches failed so"),
                Ruling::Met,
            )),
            Some(first) => {
                let got = format!("{} of {searches} searches otherwise: {first}", self.others);
                let verdict = Verdict::new(check, expected, "scenario", got, Ruling::NotMet);
                Some(if self.succeeded == 0 { verdict.lost() } else { verdict })
            }
        }
    }
}

impl Executor<'_> {
    pub(super) fn find(
        &mut self,
        times: u32,
        expect: &[usize],
        fails: &[FailureKind],
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        let mut tally = Tally::default();
        let mut failures = Failures::default();
        let searched = self.search_times(times, expect, fails, &mut tally, &mut failures);
        let found = tally.found().iter().map(|(rom, times)| self.found_sensor(*rom, *times, None)).collect();
        findings.data = StepData::Search { searches: tally.searches(), found };
        if matches!(searched, Err(Halt::Broken(_))) || tally.searches() == 0 {
            return searched;
        }
        findings.verdicts.extend(failures.verdict(tally.searches(), fails));
        if fails.is_empty() {
            findings.verdicts.extend(tally.verdicts(SearchGoal::All, &self.rig.inventory, expect));
            searched?;
            let found = self.supplies(&tally, findings)?;
            findings.data = StepData::Search { searches: tally.searches(), found };
            return Ok(());
        }
        searched
    }

    fn search_times(
        &mut self,
        times: u32,
        expect: &[usize],
        fails: &[FailureKind],
        tally: &mut Tally,
        failures: &mut Failures,
    ) -> Result<(), Halt> {
        for search in 1..=times {
            self.go_on()?;
            let SearchOutcome { roms, trouble } = self.bench.search(SearchScope::All);
            let is_empty = trouble.as_ref().is_some_and(|trouble| trouble.kind() == Some(FailureKind::NoPresence));
            match trouble {
                Some(trouble) if !fails.is_empty() => {
                    let failure = self.judged_search(trouble, fails, &roms)?;
                    if fails.contains(&failure.kind) {
                        failures.expected += 1;
                    } else {
                        failures.add_other(failure.text);
                    }
                }
                None if !fails.is_empty() => {
                    failures.succeeded += 1;
                    failures.add_other("no failure".into());
                }
                // A reset without a presence pulse is right on a line that must be empty.
                Some(_) if expect.is_empty() && is_empty => {}
                Some(trouble) => failures.add_other(self.judged_search(trouble, &[], &roms)?.text),
                None => {}
            }
            tally.add(&roms);
            let progress = Progress::Count { done: u64::from(search), total: u64::from(times) };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
        }
        Ok(())
    }

    /// The flags are those of the last conversion, and of the limits that the scenario has set.
    pub(super) fn alarm_search(&mut self, expect: &[usize], findings: &mut Findings) -> Result<(), Halt> {
        let restored = self.memory.restore_flags(self.bench, self.rig);
        if let Err(trouble) = restored {
            let failure = self.judged(trouble, &[])?;
            let verdict =
                Verdict::new(Check::Conversion, "a conversion to its end", "always", failure.text, Ruling::NotMet);
            findings.verdicts.push(verdict);
        }
        let SearchOutcome { roms, trouble } = self.bench.search(SearchScope::Alarm);
        let mut failures = Failures::default();
        if let Some(trouble) = trouble {
            failures.add_other(self.judged(trouble, &[])?.text);
        }
        let mut tally = Tally::default();
        tally.add(&roms);
        findings.verdicts.extend(failures.verdict(1, &[]));
        findings.verdicts.extend(tally.verdicts(SearchGoal::Alarm, &self.rig.inventory, expect));
        let found = roms.iter().map(|rom| self.found_sensor(*rom, 1, None)).collect();
        findings.data = StepData::Search { searches: 1, found };
        Ok(())
    }

    /// All sensors that were found, with the power mode that each reports and the one in the inventory.
    fn supplies(&mut self, tally: &Tally, findings: &mut Findings) -> Result<Vec<FoundSensor>, Halt> {
        let mut found = Vec::with_capacity(tally.found().len());
        for &(rom, times) in tally.found() {
            self.go_on()?;
            let supply = match self.bench.supply(Target::One(rom)) {
                Ok(supply) => Some(supply),
                Err(trouble) => {
                    let failure = self.judged(trouble, &[])?;
                    let verdict = supply_verdict("an answer", &failure.text, Ruling::NotMet).lost();
                    findings.verdicts.push(verdict.about(subject(&self.rig.inventory, rom)));
                    None
                }
            };
            if let Some(supply) = supply {
                // Two sensors with one code answer together, and one on parasite power is enough.
                let listed: Vec<Supply> =
                    self.rig.inventory.iter().filter(|sensor| sensor.rom == rom).map(|sensor| sensor.supply).collect();
                if let Some(expected) = listed.iter().find(|listed| **listed == Supply::Parasite).or(listed.first()) {
                    let ruling = Ruling::met_if(supply == *expected);
                    let verdict = supply_verdict(supply_words(*expected), supply_words(supply), ruling);
                    findings.verdicts.push(verdict.about(subject(&self.rig.inventory, rom)));
                }
            }
            found.push(self.found_sensor(rom, times, supply));
        }
        Ok(found)
    }

    fn found_sensor(&self, rom: RomCode, times: u32, supply: Option<Supply>) -> FoundSensor {
        let part = Family::of(rom).map(|family| family.part().to_owned());
        FoundSensor { sensor: subject(&self.rig.inventory, rom), part, supply, times }
    }
}

fn supply_verdict(expected: &str, got: &str, ruling: Ruling) -> Verdict {
    Verdict::new(Check::Supply, expected, "rig", got, ruling)
}

fn supply_words(supply: Supply) -> &'static str {
    match supply {
        Supply::Local => "supply of its own",
        Supply::Parasite => "parasite power",
    }
}
