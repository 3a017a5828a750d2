//! From a rig file to a [`Rig`].

use std::path::Path;

use toml::de::DeTable;

use super::bridge::read_bridge;
use super::inventory::{Filling, is_unfilled, read_inventory};
use super::keys;
use super::serial::{no_serial_keys, required_serial};
use super::{BridgeRig, Rig, RigKind, TimingSet, VirtualLine};
use slotwise_terms::input::InputErrors;
use slotwise_terms::input::form::Key;
use slotwise_terms::input::reader::{Read, Reader, Report};
use slotwise_terms::input::source::SourceFile;
use slotwise_terms::input::table::Table;

impl Rig {
    /// Reads a rig file.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn load(path: &Path) -> Result<Self, InputErrors> {
        Self::load_as(path, Filling::Required)
    }

    /// Reads a rig file that may lack sensors, for the commands that fill them in. A scenario needs sensors to judge.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn load_unfilled(path: &Path) -> Result<Self, InputErrors> {
        Self::load_as(path, Filling::MayBeMissing)
    }

    fn load_as(path: &Path, filling: Filling) -> Result<Self, InputErrors> {
        let mut rig = Self::from_source(&SourceFile::load(path)?, filling)?;
        if let RigKind::Bridge(BridgeRig { image: Some(image), .. }) = &mut rig.kind
            && let Some(folder) = path.parent()
        {
            // An absolute path stays as it is.
            *image = folder.join(&*image);
        }
        Ok(rig)
    }

    /// Reads the text of a rig file; `name` is what messages call it.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn parse(name: &str, text: &str) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::from_text(name, text)?, Filling::Required)
    }

    /// The same of a rig that may be without sensors so far.
    ///
    /// # Errors
    /// [`InputErrors`] with all that is wrong with it.
    pub fn parse_unfilled(name: &str, text: &str) -> Result<Self, InputErrors> {
        Self::from_source(&SourceFile::from_text(name, text)?, Filling::MayBeMissing)
    }

    fn from_source(source: &SourceFile, filling: Filling) -> Result<Self, InputErrors> {
        Reader::read(source, |reader, top| read(reader, top, filling))
    }
}

fn read<'i>(reader: &Reader<'i>, top: &DeTable<'i>, filling: Filling) -> Read<Rig> {
    if let Some((key, _)) = top.iter().find(|(key, _)| key.get_ref() == "scenario")
        && !top.iter().any(|(key, _)| key.get_ref() == keys::RIG.name)
    {
        return Err(reader.report(key.span(), || Report::unexpected("a rig file, with the key rig", "a scenario file")));
    }
    let top = Table::new(reader, &keys::TOP_SECTION, top, 0..0);
    let name = top.required_name(&keys::RIG);
    let kind = top.word(&keys::KIND);
    let timing = top.word(&keys::TIMING);
    let kind = match kind {
        Ok(0) => required_line(&top).map(RigKind::Virtual),
        Ok(1) => required_line(&top).and_then(|line| check_clock(&top, line)).map(RigKind::Emulated),
        Ok(2) => required_bridge(&top).map(RigKind::Bridge),
        Ok(_) => required_serial(&top).map(RigKind::Serial),
        // What is wrong with the rest is reported all the same.
        Err(reported) => {
            top.table(&keys::LINE).and_then(|line| line.map(|line| read_line(&line)).transpose()).and(Err(reported))
        }
    };
    let inventory = read_inventory(&top, filling);
    if matches!(kind, Ok(RigKind::Bridge(_) | RigKind::Serial(_))) && !is_unfilled(&top) {
        no_behaviour(&top)?;
    }
    Ok(Rig {
        name: name?.to_owned(),
        timing: [TimingSet::ShortLine, TimingSet::LongLine][timing?],
        inventory: inventory?,
        kind: kind?,
    })
}

/// The line that a rig in virtual time must have, and no bridge beside it.
fn required_line(top: &Table<'_, '_>) -> Read<VirtualLine> {
    let line = top.required_table(&keys::LINE).and_then(|line| read_line(&line));
    misplaced(top, &keys::BRIDGE, "only a rig of the kind \"bridge\" has a bridge")?;
    no_serial_keys(top)?;
    line
}

/// The bridge that a real rig must have, and no invented line beside it.
fn required_bridge(top: &Table<'_, '_>) -> Read<BridgeRig> {
    let bridge = top.required_table(&keys::BRIDGE).and_then(|bridge| read_bridge(&bridge));
    misplaced(top, &keys::LINE, "a real line is what it is")?;
    no_serial_keys(top)?;
    bridge
}

pub(super) fn misplaced(top: &Table<'_, '_>, key: &Key, why: &str) -> Read<()> {
    let Some(entry) = top.entry(key) else { return Ok(()) };
    Err(top.reader().report(entry.key_span.clone(), || {
        Report::contradiction(format!("no [{}] on a rig of this kind", key.name), "one", why.to_owned())
    }))
}

/// An emulated chip has two clocks only.
fn check_clock(top: &Table<'_, '_>, line: VirtualLine) -> Read<VirtualLine> {
    if matches!(line.clock_mhz, 8 | 72) {
        return Ok(line);
    }
    let table = top.required_table(&keys::LINE)?;
    let span = table.entry(&keys::CLOCK).map_or(table.span(), |entry| entry.value.span());
    Err(top.reader().report(span, || {
        Report::contradiction(
            "72 MHz or 8 MHz on an emulated chip",
            format!("{} MHz", line.clock_mhz),
            "the chip runs from an 8 MHz crystal, or without one",
        )
    }))
}

/// Real sensors behave as they like.
fn no_behaviour(top: &Table<'_, '_>) -> Read<()> {
    let mut checked = Ok(());
    for sensor in top.tables(&keys::SENSOR)?.into_iter().flatten() {
        if let Some(entry) = sensor.entry(&keys::VIRTUAL) {
            checked = Err(top.reader().report(entry.key_span.clone(), || {
                Report::contradiction("no [sensor.virtual] on a real line", "one", "a real sensor is what it is")
            }));
        }
    }
    checked
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
