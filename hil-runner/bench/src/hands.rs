//! What is done to a rig beside the driver's requests: time, supply, temperature, faults, and what the rig itself knows.

use std::io;

use super::{Extent, Pace, WaveformError};
use slotwise_limits::edges::EdgeRecord;
use slotwise_rig::reply::PortRecord;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::fixed_point::FixedPoint;

/// A short through no more than this is made by a wire or a switch, without a resistor. Chosen: contacts and short leads stay below.
pub(crate) const WIRE_OHM: u32 = 10;

/// Hands on a rig. What a rig has no hands for is not possible on it.
pub trait Hands {
    /// Time of the rig since it was made ready.
    fn now_ns(&self) -> u64;

    /// How that time goes.
    fn pace(&self) -> Pace;

    /// Calls this at least once a second while an operator is waited for.
    fn while_waiting(&mut self, idle: Box<dyn FnMut()>) {
        let _ = idle;
    }

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

    /// Shows the operator a caution and waits until he confirms it. Without an operator, as in virtual time, there is no person to warn.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`] if he declines.
    fn warn(&mut self, caution: &str) -> Result<(), Trouble> {
        let _ = caution;
        Ok(())
    }

    /// Brings these sensors to a fixed point, where they stay.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        let _ = sensors;
        Err(Trouble::not_possible(format!("bringing sensors to the {}", at.name())))
    }

    /// Has a hand of this temperature close around these sensors, until [`let_go`](Self::let_go). Simulated hands only.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn hold(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let _ = (sensors, millicelsius);
        Err(Trouble::not_possible("closing a simulated hand around sensors"))
    }

    /// Has the hand let go of these sensors: around them it is as before.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn let_go(&mut self, sensors: &[usize]) -> Result<(), Trouble> {
        let _ = sensors;
        Err(Trouble::not_possible("closing a simulated hand around sensors"))
    }

    /// Injects a fault.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        let _ = fault;
        Err(Trouble::not_possible("injecting a fault"))
    }

    /// Clears every fault of this kind.
    ///
    /// # Errors
    /// [`Trouble::NotPossible`], or what went wrong.
    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        let _ = kind;
        Err(Trouble::not_possible("clearing a fault"))
    }

    /// What the rig itself knows of the temperature of a sensor's element.
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

    /// The times of every edge that the bridge has made, where the rig sees them; once, at the end of a run.
    fn take_edges(&mut self) -> Option<EdgeRecord> {
        None
    }

    /// What has gone through the serial port that is the bus master, where one is.
    fn port(&self) -> Option<PortRecord> {
        None
    }

    /// What the clock of the waveform showed when the rig's time began, in nanoseconds.
    fn waveform_began_ns(&self) -> u64 {
        0
    }

    /// How many changes of its signals the recorder of the waveform has seen so far, kept or not; 0 where nothing is recorded.
    fn waveform_changes(&mut self) -> u64 {
        0
    }

    /// Writes the waveform of the line since the rig was made ready, as VCD (IEEE 1364).
    ///
    /// # Errors
    /// [`WaveformError::NotPossible`], or that of the writer.
    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        let _ = out;
        Err(WaveformError::NotPossible)
    }

    /// When the line of that waveform changed, and whether it is high from then on, with its level at the start as the first.
    ///
    /// # Errors
    /// [`WaveformError::NotPossible`], or that of the rig.
    fn line_changes(&mut self) -> Result<(Vec<(u64, bool)>, Extent), WaveformError> {
        Err(WaveformError::NotPossible)
    }
}
