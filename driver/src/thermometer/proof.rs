//! Proof that a conversion took place and that the sensor kept its power while it ran: the one way to trust a genuine +85 degC, and the one
//! way to be sure of a conversion on parasite power.
//!
//! A supply that dips in mid-conversion resets a sensor. Its temperature register then holds the power-on value, and to a
//! master that polls, the reset looks like the end of the conversion. But a reset also recalls the alarm limits from EEPROM.
//! So limits that differ from those in the EEPROM are a mark: if they are still there after the conversion, there was no reset.
//!
//! The mark does not show that the sensor converted at all. On its own supply it is seen busy. On parasite power it cannot answer, but its
//! alarm flag follows the limits at the end of each conversion (DS18B20 datasheet (7/19), Alarm Signaling): a sensor that is not in alarm
//! gets limits that every temperature meets, one that is in alarm gets limits that none does, and the flag must change.

use super::{AlarmLimits, Evidence, Reading, Settings, Thermometer, Wait, convert};
use crate::bus::{Bus, SearchError, Target};
use crate::error::Error;
use crate::line::Line;

/// So many Alarm Searches without an answer show that a sensor is not in alarm: silence is also what a sensor says that has not received
/// the command.
const SILENT_SEARCHES: u32 = 5;

impl Thermometer {
    /// Converts for this sensor alone and reads it, with proof that it converted and that it was not reset meanwhile: the reading's
    /// evidence is [`Evidence::Proven`]. If it was reset, or its alarm flag did not change on parasite power, the evidence is
    /// [`Evidence::None`], and the doubts say so.
    ///
    /// The settings in the scratchpad are the same afterwards, and the EEPROM is not written. The alarm flag is not that of the settings:
    /// convert again before an alarm search. Reads the scratchpad twice. Takes twelve transactions more than [`convert`](super::convert)
    /// and [`read`](Self::read), and on parasite power the Alarm Searches.
    ///
    /// # Errors
    /// [`Error::ReadsDiffer`] if two reads of the scratchpad are not the same; otherwise whatever went wrong in one of its steps. The sensor may then be left with the mark as its alarm limits, until power-down.
    pub fn convert_proven<L: Line>(
        &self,
        bus: &mut Bus<L>,
        wait: Wait,
        max_us: u32,
    ) -> Result<Reading, Error<L::Error>> {
        // The end of an older conversion would change the alarm flag too.
        bus.wait_until_idle();
        let before = self.read_twice(bus)?.decode(self.family())?.settings;
        let stored = self.recall(bus)?;
        let is_seen_busy = matches!(wait, Wait::Poll | Wait::PollAndTime);
        // The flag is needed only where the sensor cannot be seen busy.
        let was_in_alarm = !is_seen_busy && self.is_in_alarm(bus)?;
        let mark = if is_seen_busy || was_in_alarm {
            AlarmLimits::never_beside(stored.limits)
        } else {
            AlarmLimits::always_beside(stored.limits)
        };
        self.write(bus, Settings { limits: mark, ..before })?;
        // What is polled is waited for to the end of the longest time: the mark does not show when a conversion is over.
        let wait = if is_seen_busy { Wait::PollAndTime } else { wait };
        let converted = convert(bus, Target::One(self.rom()), wait, max_us);
        let in_alarm = if is_seen_busy || converted.is_err() { Ok(!was_in_alarm) } else { self.is_in_alarm(bus) };
        let scratchpad = self.read_twice(bus);
        self.write(bus, before)?;
        converted?;
        let scratchpad = scratchpad?;
        let is_proven = scratchpad.limits() == mark && in_alarm? != was_in_alarm;
        let evidence = if is_proven { Evidence::Proven } else { Evidence::None };
        let reading = self.interpret(scratchpad, evidence)?;
        Ok(Reading { settings: before, ..reading })
    }

    /// Whether it is in alarm, sure either way.
    fn is_in_alarm<L: Line>(&self, bus: &mut Bus<L>) -> Result<bool, SearchError<L::Error>> {
        for _ in 0..SILENT_SEARCHES {
            if bus.is_in_alarm(self.rom())? {
                return Ok(true);
            }
        }
        Ok(false)
    }
}
