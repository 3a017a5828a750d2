//! Labels in the rig file: read, added, changed.

use slotwise::bus::RomCode;
use slotwise::thermometer::Supply;

use slotwise_rig::{Change, Rig, RigFile, StoreError};
use slotwise_study::identify::{Entry, Identified, Renamed};

/// The rig file as last read or written by this session.
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

    /// The label of a sensor.
    pub(super) fn label(&self, rom: RomCode) -> Option<&str> {
        self.rig.inventory.iter().find(|sensor| sensor.rom == rom).map(|sensor| sensor.label.as_str())
    }

    /// The sensor that has this label.
    pub(super) fn owner(&self, label: &str) -> Option<RomCode> {
        self.rig.inventory.iter().find(|sensor| sensor.label == label).map(|sensor| sensor.rom)
    }

    /// Writes the label of a sensor. A sensor that the file does not list is added.
    ///
    /// # Errors
    /// [`StoreError`]; the file is then unchanged.
    pub(super) fn enter(&mut self, rom: RomCode, label: &str, supply: Supply) -> Result<Entry, StoreError> {
        let change = match self.label(rom) {
            Some(current) if current == label => return Ok(Entry::Unchanged),
            Some(_) => Change::Label(rom, label.to_owned()),
            None => Change::Sensor { rom, label: label.to_owned(), supply },
        };
        self.write(&[change])
    }

    /// Exchanges the labels of two sensors of the file.
    ///
    /// # Errors
    /// [`StoreError`]; the file is then unchanged.
    pub(super) fn swap(&mut self, one: RomCode, other: RomCode) -> Result<Entry, StoreError> {
        let label = |rom| self.label(rom).map(str::to_owned);
        let (Some(first), Some(second)) = (label(one), label(other)) else { return Ok(Entry::Unchanged) };
        self.write(&[Change::Label(one, second), Change::Label(other, first)])
    }

    /// Whether the file on disk still holds every label that this session wrote.
    pub(super) fn still_has(&self, identified: &[Identified], renamed: &[Renamed]) -> bool {
        let now = Rig::load_unfilled(self.file.path()).map(|rig| rig.inventory).unwrap_or_default();
        let is_there = |rom: RomCode, label: &str| now.iter().any(|sensor| sensor.rom == rom && sensor.label == label);
        let written = identified.iter().filter(|sensor| sensor.file == Entry::Written);
        let mut all = written.map(|sensor| (sensor.rom, sensor.label.as_str()));
        all.all(|(rom, label)| is_there(rom, label)) && renamed.iter().all(|sensor| is_there(sensor.rom, &sensor.label))
    }

    fn write(&mut self, changes: &[Change]) -> Result<Entry, StoreError> {
        let file = self.file.store(changes)?;
        // `store` has parsed the new text already.
        if let Ok(rig) = Rig::parse_unfilled("the rig file", file.text()) {
            self.rig = rig;
        }
        self.file = file;
        Ok(Entry::Written)
    }
}
