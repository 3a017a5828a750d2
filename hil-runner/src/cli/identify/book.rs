//! The rig file as a book of who is called what.

use slotwise::bus::RomCode;
use slotwise::thermometer::Supply;

use slotwise_rig::{Change, Rig, RigFile, StoreError};
use slotwise_study::identify::{Entry, Identified, Renamed};

/// The rig file, as it was when it was last read or written.
pub(super) struct Book {
    file: RigFile,
    rig: Rig,
}

impl Book {
    pub(super) const fn new(file: RigFile, rig: Rig) -> Self {
        Self { file, rig }
    }

    pub(super) const fn rig(&self) -> &Rig {
        &self.rig
    }

    pub(super) fn path(&self) -> String {
        self.file.path().display().to_string()
    }

    /// What a sensor is called.
    pub(super) fn label(&self, rom: RomCode) -> Option<&str> {
        self.rig.inventory.iter().find(|sensor| sensor.rom == rom).map(|sensor| sensor.label.as_str())
    }

    /// Who is called so.
    pub(super) fn owner(&self, label: &str) -> Option<RomCode> {
        self.rig.inventory.iter().find(|sensor| sensor.label == label).map(|sensor| sensor.rom)
    }

    /// Writes down that a sensor is called so. One that the file does not have is added.
    ///
    /// # Errors
    /// [`StoreError`]; the file is then as before.
    pub(super) fn enter(&mut self, rom: RomCode, label: &str, supply: Supply) -> Result<Entry, StoreError> {
        let change = match self.label(rom) {
            Some(known) if known == label => return Ok(Entry::Unchanged),
            Some(_) => Change::Label(rom, label.to_owned()),
            None => Change::Sensor { rom, label: label.to_owned(), supply },
        };
        self.write(&[change])
    }

    /// Has two sensors of the file change labels.
    ///
    /// # Errors
    /// [`StoreError`]; the file is then as before.
    pub(super) fn swap(&mut self, one: RomCode, other: RomCode) -> Result<Entry, StoreError> {
        let label = |rom| self.label(rom).map(str::to_owned);
        let (Some(first), Some(second)) = (label(one), label(other)) else { return Ok(Entry::Unchanged) };
        self.write(&[Change::Label(one, second), Change::Label(other, first)])
    }

    /// Whether the file still has what was written: those who are called so, there, now.
    pub(super) fn still_has(&self, identified: &[Identified], renamed: &[Renamed]) -> bool {
        let now = Rig::load_unfilled(self.file.path()).map(|rig| rig.inventory).unwrap_or_default();
        let is_there = |rom: RomCode, label: &str| now.iter().any(|sensor| sensor.rom == rom && sensor.label == label);
        let written = identified.iter().filter(|known| known.file == Entry::Written);
        let mut all = written.map(|known| (known.rom, known.label.as_str()));
        all.all(|(rom, label)| is_there(rom, label)) && renamed.iter().all(|known| is_there(known.rom, &known.label))
    }

    fn write(&mut self, changes: &[Change]) -> Result<Entry, StoreError> {
        let file = self.file.store(changes)?;
        // What was written has been read again before.
        if let Ok(rig) = Rig::parse_unfilled("the rig file", file.text()) {
            self.rig = rig;
        }
        self.file = file;
        Ok(Entry::Written)
    }
}
