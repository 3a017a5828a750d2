//! The plan of a night: what is run on which rigs, how often, and how long at most.

use std::path::{Path, PathBuf};

use toml::de::DeTable;

use super::keys;
use slotwise_terms::input::InputErrors;
use slotwise_terms::input::reader::{Read, Reader, Report};
use slotwise_terms::input::source::SourceFile;
use slotwise_terms::input::table::Table;

/// A plan after its file has been read and checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// What it is called.
    pub name: String,
    /// The folder it lies in, from which all paths in it are taken.
    pub folder: PathBuf,
    /// Its text.
    pub text: String,
    /// The history.
    pub history: PathBuf,
    /// The folder for the nights.
    pub reports: PathBuf,
    /// The file for the metrics.
    pub metrics: PathBuf,
    /// What is run.
    pub entries: Vec<Entry>,
}

/// Scenarios on a rig.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The rig: a file, or a built-in one.
    pub rig: String,
    /// The scenarios: files, or built-in ones.
    pub scenarios: Vec<String>,
    /// How often each.
    pub times: u32,
    /// Longest time of one run, in seconds.
    pub at_most_s: u64,
    /// The seed, if it is always the same.
    pub seed: Option<u64>,
}

impl Plan {
    /// Reads a plan file.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn load(path: &Path) -> Result<Self, InputErrors> {
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        Self::from_source(&SourceFile::load(path)?, folder)
    }

    /// Reads the text of a plan that lies in `folder`; `name` is what messages call it.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn parse(name: &str, text: &str, folder: &Path) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::from_text(name, text)?, folder)
    }

    fn from_source(source: &SourceFile, folder: &Path) -> Result<Self, InputErrors> {
        let mut plan = Reader::read(source, |reader, top| read(reader, top, folder))?;
        source.text().clone_into(&mut plan.text);
        Ok(plan)
    }
}

fn read<'i>(reader: &Reader<'i>, top: &DeTable<'i>, folder: &Path) -> Read<Plan> {
    for other in ["scenario", "kind"] {
        if let Some((key, _)) = top.iter().find(|(key, _)| key.get_ref() == other)
            && !top.iter().any(|(key, _)| key.get_ref() == keys::PLAN.name)
        {
            let found = if other == "kind" { "a rig file" } else { "a scenario file" };
            return Err(reader.report(key.span(), || {
                Report::unexpected("a plan file, with the key plan", found).hint("a plan names rigs and scenarios")
            }));
        }
    }
    let top = Table::new(reader, &keys::TOP_SECTION, top, 0..0);
    let name = top.required_name(&keys::PLAN);
    let history = top.name(&keys::HISTORY);
    let reports = top.name(&keys::REPORTS);
    let metrics = top.name(&keys::METRICS);
    let entries: Read<Vec<Entry>> = top.tables(&keys::RUN).and_then(|tables| {
        // The problems of each are reported.
        let read: Vec<Read<Entry>> = tables.into_iter().map(|table| read_entry(&table?)).collect();
        read.into_iter().collect()
    });
    let reports = folder.join(reports?.unwrap_or("nights"));
    Ok(Plan {
        name: name?.to_owned(),
        folder: folder.into(),
        text: String::new(),
        history: folder.join(history?.unwrap_or("history.sqlite")),
        metrics: metrics?.map_or_else(|| reports.join("metrics.txt"), |path| folder.join(path)),
        reports,
        entries: entries?,
    })
}

fn read_entry(table: &Table<'_, '_>) -> Read<Entry> {
    let rig = table.required_name(&keys::RIG);
    let scenarios = table.required(&keys::SCENARIOS).and_then(|entry| {
        let scenarios = table.sentences(&keys::SCENARIOS)?;
        if scenarios.is_empty() {
            return Err(table
                .reader()
                .report(entry.value.span(), || Report::unexpected("at least one scenario", "an empty list")));
        }
        Ok(scenarios)
    });
    let times = table.whole(&keys::TIMES);
    let at_most = table.quantity::<u64>(&keys::AT_MOST_KEY);
    let seed = table.whole(&keys::SEED);
    Ok(Entry {
        rig: rig?.to_owned(),
        scenarios: scenarios?,
        // Both lie inside the limits of their keys.
        times: times?.and_then(|times| u32::try_from(times).ok()).unwrap_or(1),
        at_most_s: at_most?,
        seed: seed?.map(i64::unsigned_abs),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_terms::input::form::reference::{assert_documented, assert_reachable};

    const PLAN: &str = r#"
        plan = "the cellar"

        [[run]]
        rig = "cellar"
        scenarios = ["cellar", "faults"]
        times = 2
        at_most = "5 min"
        seed = 7

        [[run]]
        rig = "emulated"
        scenarios = ["cellar"]
    "#;

    #[test]
    fn the_page_describes_each_key_that_is_accepted_and_no_other() {
        assert_reachable(&keys::TOP_SECTION, &[&keys::TOP_SECTION, &keys::RUN_SECTION]);
        assert_documented(include_str!("../../../guide/plan.md"), &[&keys::TOP_SECTION, &keys::RUN_SECTION], &[]);
    }

    #[test]
    fn paths_are_taken_from_the_folder_of_the_plan() {
        let plan = Plan::parse("plan.toml", PLAN, Path::new("/srv/cellar")).unwrap();
        assert_eq!(plan.history, Path::new("/srv/cellar/history.sqlite"));
        assert_eq!(plan.metrics, Path::new("/srv/cellar/nights/metrics.txt"));
        let first = &plan.entries[0];
        assert_eq!((first.times, first.at_most_s, first.seed), (2, 300, Some(7)));
        let second = &plan.entries[1];
        assert_eq!((second.times, second.at_most_s, second.seed), (1, 1800, None));
    }

    #[test]
    fn every_problem_is_reported_with_its_line() {
        let text =
            "plan = \"x\"\n[[run]]\nrig = \"a\"\nscenarios = []\n[[run]]\nscenarios = [\"b\"]\nat_most = \"0 s\"\n";
        let errors = Plan::parse("plan.toml", text, Path::new(".")).unwrap_err();
        let problems: Vec<String> = errors.problems().iter().map(ToString::to_string).collect();
        assert_eq!(problems.len(), 3, "{problems:?}");
        for (problem, line) in problems.iter().zip([4, 5, 7]) {
            assert!(problem.starts_with(&format!("plan.toml:{line}:")), "{problem}");
        }
    }

    #[test]
    fn another_file_is_called_by_its_name() {
        for (text, name) in [("scenario = \"x\"", "a scenario file"), ("rig = \"x\"\nkind = \"virtual\"", "a rig file")]
        {
            let errors = Plan::parse("x.toml", text, Path::new(".")).unwrap_err();
            assert!(errors.to_string().contains(name) || errors.problems()[0].to_string().contains(name));
        }
    }
}
