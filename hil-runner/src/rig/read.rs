//! From a rig file to a [`Rig`].

use std::path::Path;

use toml::de::DeTable;

use super::inventory::read_inventory;
use super::keys;
use super::{Rig, RigKind, TimingSet, VirtualLine};
use crate::input::InputErrors;
use crate::input::reader::{Read, Reader, Report};
use crate::input::source::SourceFile;
use crate::input::table::Table;

impl Rig {
    /// Reads a rig file.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn load(path: &Path) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::load(path)?)
    }

    /// Reads the text of a rig file; `name` is what messages call it.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn parse(name: &str, text: &str) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::from_text(name, text)?)
    }

    fn from_source(source: &SourceFile) -> Result<Self, InputErrors> {
        Reader::read(source, |reader, top| read(reader, top))
    }
}

fn read<'i>(reader: &Reader<'i>, top: &DeTable<'i>) -> Read<Rig> {
    if let Some((key, _)) = top.iter().find(|(key, _)| key.get_ref() == "scenario")
        && !top.iter().any(|(key, _)| key.get_ref() == keys::RIG.name)
    {
        return Err(reader.report(key.span(), || Report::unexpected("a rig file, with the key rig", "a scenario file")));
    }
    let top = Table::new(reader, &keys::TOP_SECTION, top, 0..0);
    let name = top.required_name(&keys::RIG);
    let kind = top.word(&keys::KIND);
    let timing = top.word(&keys::TIMING);
    let line = top.required_table(&keys::LINE).and_then(|line| read_line(&line));
    let inventory = read_inventory(&top);
    // There is but one kind so far, and anything else has been reported.
    kind?;
    Ok(Rig {
        name: name?.to_owned(),
        timing: [TimingSet::Recommended, TimingSet::LongLine][timing?],
        inventory: inventory?,
        kind: RigKind::Virtual(line?),
    })
}

fn read_line(line: &Table<'_, '_>) -> Read<VirtualLine> {
    let supply = line.quantity(&keys::SUPPLY);
    let pull_up = line.quantity_or_none(&keys::PULL_UP);
    let cable = line.quantity(&keys::CABLE);
    let capacitance = line.quantity(&keys::CAPACITANCE);
    let strong_pull_up = line.quantity_or_none(&keys::STRONG_PULL_UP);
    let clock = line.quantity(&keys::CLOCK);
    let ambient = line.quantity(&keys::AMBIENT);
    Ok(VirtualLine {
        supply_mv: supply?,
        pull_up_ohm: pull_up?,
        cable_mm: cable?,
        cable_pf_per_m: capacitance?,
        strong_pull_up_ohm: strong_pull_up?,
        clock_mhz: clock?,
        ambient_millicelsius: ambient?,
    })
}
