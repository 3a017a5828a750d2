//! The requests.

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{Receipt, Round, RoundOver, Saved, Settings, Started, Supply, Wait};

use super::{Hands, SearchOutcome};
use slotwise_rig::reply::{BridgeRecord, Driver, LineRecord, LinkRecord, LogRecord};
use slotwise_rig::reply::{Converted, Sample, Trouble};

/// A rig that takes requests.
///
/// These requests are answered by the driver under test, on every rig. What is done to the rig itself is the business of its
/// [`Hands`]. Sensors are named by ROM code where the driver speaks to them, and by their place in the rig's inventory where
/// hands would take hold of them.
pub trait Bench: Hands {
    /// The driver that answers.
    fn driver(&self) -> Driver;

    /// The bridge it runs on.
    fn bridge(&self) -> BridgeRecord;

    /// How the link to it has held so far.
    fn link(&self) -> LinkRecord;

    /// Ends a conversion early once this is so, with [`Trouble::Cancelled`]. A rig that cannot ends it in its time, which is bounded.
    fn end_when(&mut self, ended: Box<dyn Fn() -> bool>) {
        let _ = ended;
    }

    /// Shows the bridge that the host is there, if it has to know. To be called at least every 2 s while nothing is requested.
    fn show_life(&mut self) {}

    /// The same as a call of its own, for whatever waits for a person beside this rig.
    fn life(&self) -> Box<dyn FnMut()> {
        Box::new(|| {})
    }

    /// What was measured of the line since the last call, if there was a request.
    fn take_line(&mut self) -> Option<LineRecord>;

    /// What the firmware has logged since the last call.
    fn take_logs(&mut self) -> Vec<LogRecord>;

    /// Searches the line.
    fn search(&mut self, scope: SearchScope) -> SearchOutcome;

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

    /// Reads the temperature of the last conversion, of which this is the receipt.
    ///
    /// # Errors
    /// [`Trouble`] if there is no number to be had, or if the receipt is of another sensor or conversion.
    fn read(&mut self, rom: RomCode, receipt: &Receipt) -> Result<Sample, Trouble>;

    /// Starts the conversion of one sensor in a round, or in a new one, and sees that it is busy.
    ///
    /// # Errors
    /// [`Trouble`] if it is not.
    fn start(&mut self, rom: RomCode, round: Option<Round>) -> Result<(Round, Started), Trouble>;

    /// Waits until the sensor that was started last in this round must be done.
    ///
    /// # Errors
    /// [`Trouble`] if the request does not reach the bridge.
    fn finish_round(&mut self, round: Round, max_us: u32) -> Result<RoundOver, Trouble>;

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
}
