//! The requests.

use std::io;

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{Evidence, Saved, Settings, Supply, Wait};

use super::{Converted, Extent, Found, Pace, Sample, Trouble, WaveformError};
use crate::record::{BridgeRecord, Driver, EdgeRecord, LineRecord, LinkRecord, LogRecord};
use crate::scenario::{Fault, FaultKind};

/// A rig, ready to be asked.
///
/// The first group of requests is answered by the driver under test, on every rig. The second group is about the rig
/// itself; one that cannot do it answers [`Trouble::NotPossible`], which is what the provided methods do. Sensors are
/// named by ROM code where the driver speaks to them, and by their place in the rig's inventory where hands would take
/// hold of them.
pub trait Bench {
    /// The driver that answers.
    fn driver(&self) -> Driver;

    /// The bridge it runs on.
    fn bridge(&self) -> BridgeRecord;

    /// How the link to it has held so far.
    fn link(&self) -> LinkRecord;

    /// What was measured of the line since the last call, if anything was asked of it.
    fn take_line(&mut self) -> Option<LineRecord>;

    /// What the firmware has logged since the last call.
    fn take_logs(&mut self) -> Vec<LogRecord>;

    /// The times of every edge that the bridge has made, where the rig sees them; once, at the end of a run.
    fn take_edges(&mut self) -> Option<EdgeRecord> {
        None
    }

    /// Searches the line.
    fn search(&mut self, scope: SearchScope) -> Found;

    /// Whether this sensor is on the line.
    ///
    /// # Errors
    /// [`Trouble`] if the line failed.
    fn is_present(&mut self, rom: RomCode) -> Result<bool, Trouble>;

    /// How `target` is powered.
    ///
    /// # Errors
    /// [`Trouble`] if it could not be spoken to.
    fn supply(&mut self, target: Target) -> Result<Supply, Trouble>;

    /// Reads nine bytes with a CRC that is right.
    ///
    /// # Errors
    /// [`Trouble`] if there are none to be had.
    fn scratchpad(&mut self, rom: RomCode) -> Result<[u8; 9], Trouble>;

    /// Reads the temperature of the last conversion, of which `evidence` is known.
    ///
    /// # Errors
    /// [`Trouble`] if there is no number to be had.
    fn read(&mut self, rom: RomCode, evidence: Evidence) -> Result<Sample, Trouble>;

    /// Writes settings and reads them back.
    ///
    /// # Errors
    /// [`Trouble`] if they did not take.
    fn write(&mut self, rom: RomCode, settings: Settings) -> Result<(), Trouble>;

    /// Saves the settings to EEPROM if it holds others.
    ///
    /// # Errors
    /// [`Trouble`] if they are not there afterwards.
    fn save(&mut self, rom: RomCode) -> Result<Saved, Trouble>;

    /// Recalls the settings from EEPROM.
    ///
    /// # Errors
    /// [`Trouble`] if it failed.
    fn recall(&mut self, rom: RomCode) -> Result<Settings, Trouble>;

    /// Has `target` convert and waits for it, up to `max_us` per conversion.
    ///
    /// # Errors
    /// [`Trouble`] if there is no finished conversion.
    fn convert(&mut self, target: Target, wait: Wait, max_us: u32) -> Result<Converted, Trouble>;

    /// Has this sensor convert and reads it, with proof that it was not reset meanwhile. The bytes are those with the mark in
    /// them, and so are the settings.
    ///
    /// # Errors
    /// [`Trouble`] if there is no number to be had.
    fn prove(&mut self, rom: RomCode, wait: Wait, max_us: u32) -> Result<Sample, Trouble>;

    /// Time of the rig since it was made ready.
    fn now_ns(&self) -> u64;

    /// Whether that time is real time.
    fn pace(&self) -> Pace;

    /// Lets time pass.
    ///
    /// # Errors
    /// [`Trouble`] if the rig was lost meanwhile.
    fn wait_us(&mut self, us: u64) -> Result<(), Trouble>;

    /// Takes supply and pull-up away, waits, and gives them back.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn power_cycle(&mut self, off_ms: u64) -> Result<(), Trouble> {
        let _ = off_ms;
        Err(Trouble::not_possible("switching the supply"))
    }

    /// Changes the temperature around these sensors; around everything, if they are all of the inventory.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let _ = (sensors, millicelsius);
        Err(Trouble::not_possible("setting the temperature around sensors"))
    }

    /// Injects a fault. One of a kind that is already there takes its place, or joins it if it is about other sensors.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        let _ = fault;
        Err(Trouble::not_possible("injecting a fault"))
    }

    /// Clears every fault of this kind. There need not be one.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        let _ = kind;
        Err(Trouble::not_possible("clearing a fault"))
    }

    /// What the rig itself knows of the temperature of a sensor's element, in thousandths of a degree Celsius.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        let _ = sensor;
        Err(Trouble::not_possible("knowing the temperature of a sensor's element"))
    }

    /// How often the EEPROM of a sensor has been written, by the rig's own count.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn eeprom_writes(&mut self, sensor: usize) -> Result<u64, Trouble> {
        let _ = sensor;
        Err(Trouble::not_possible("counting the writes of a sensor's EEPROM"))
    }

    /// Writes the waveform of the line since the rig was made ready, as VCD (IEEE 1364).
    ///
    /// # Errors
    /// [`WaveformError::NotPossible`], or that of the writer.
    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        let _ = out;
        Err(WaveformError::NotPossible)
    }
}
