//! From a scenario file to a [`Scenario`] that fits a rig.

use std::path::Path;

use toml::de::DeTable;

use super::budget;
use super::keys;
use super::purpose;
use super::step::read_steps;
use super::{Scenario, fault, fixed_point};
use slotwise_rig::Rig;
use slotwise_terms::input::InputErrors;
use slotwise_terms::input::reader::{Read, Reader, Report};
use slotwise_terms::input::source::SourceFile;
use slotwise_terms::input::table::Table;

impl Scenario {
    /// Reads a scenario file for a rig.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it, or with it on this rig.
    pub fn load(path: &Path, rig: &Rig) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::load(path)?, rig)
    }

    /// Reads the text of a scenario file for a rig; `name` is what messages call it.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it, or with it on this rig.
    pub fn parse(name: &str, text: &str, rig: &Rig) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::from_text(name, text)?, rig)
    }

    fn from_source(source: &SourceFile, rig: &Rig) -> Result<Self, InputErrors> {
        Reader::read(source, |reader, top| read(reader, top, source.name(), rig))
    }
}

fn read<'i>(reader: &Reader<'i>, top: &DeTable<'i>, source: &str, rig: &Rig) -> Read<Scenario> {
    if let Some((key, _)) = top.iter().find(|(key, _)| key.get_ref() == "rig")
        && !top.iter().any(|(key, _)| key.get_ref() == keys::SCENARIO.name)
    {
        return Err(reader.report(key.span(), || {
            Report::unexpected("a scenario file, with the key scenario", "a rig file").hint("a rig is given with --rig")
        }));
    }
    let top = Table::new(reader, &keys::TOP_SECTION, top, 0..0);
    let name = top.required_name(&keys::SCENARIO);
    let cautions = top.sentences(&keys::CAUTIONS);
    let steps = read_steps(rig, &top, &keys::STEP, 0);
    let steps = steps.and_then(|steps| {
        let faults = fault::check_cleared(&top, &steps);
        let size = budget::check(rig, &top, &steps);
        let purpose = purpose::check(&top, &steps);
        faults?;
        size?;
        purpose?;
        Ok(steps)
    });
    let (cautions, steps) = (cautions?, steps?);
    let cautions = fixed_point::cautions(cautions, &steps);
    Ok(Scenario { name: name?.to_owned(), source: source.to_owned(), cautions, steps })
}
