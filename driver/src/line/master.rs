//! The trait of a bus master and the outcomes of its operations.

use super::{SwitchError, TimingError};

/// What a reset found on a line that is electrically sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Presence {
    /// At least one sensor answered with a presence pulse.
    Present,
    /// The line idles high and no sensor answered.
    Absent,
}

/// Why an operation of the line failed. `E` is the error of the master's pins or port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum LineError<E> {
    /// The line is low and stays low: shorted, held by a sensor, without supply, without pull-up, or with one too weak even for
    /// the 5 uA that each sensor draws. Levels in between look the same to a digital input.
    #[error("line stuck low: a short, no supply, or a pull-up that is missing or far too weak")]
    StuckLow,
    /// The line is not back at idle high when the protocol needs it: it rises too slowly.
    ///
    /// A pin finds it when the line is still low when a read slot would be sampled, 10 or 12 us after the release and before the
    /// earliest legal presence pulse (15 us), on three resets in a row, and so long after the release of a slot; or when it has not recovered after a slot. A serial port finds
    /// it when the line was low for a whole byte and then rose after all; one that rises sooner than that, but too late for the first
    /// sample, is [`Disturbed`](Self::Disturbed) where it writes and a 0 where it reads.
    #[error("line never idle high in time: pull-up too weak for this cable")]
    NeverIdleHigh,
    /// The line was driven by another party, or rose too late: it read low in a write-1 slot. A serial port, which samples more of a slot
    /// and of a reset, says so as well of a line that fell once more in a read slot, and of one that is low when every presence pulse
    /// is over.
    #[error("line driven low by another party while the master was writing")]
    Disturbed,
    /// The strong pull-up could not be switched.
    #[error(transparent)]
    StrongPullUp(#[from] SwitchError),
    /// The pin or port of the master reported an error.
    #[error("pin access failed: {0:?}")]
    Master(E),
    /// The line was low on three resets in a row when the master checked that it had risen, yet rises in time within a slot: the
    /// pull-up is strong enough, but the master samples so late that the presence pulses have begun. Its delay is too coarse, its calls
    /// cost more than is taken off its waits ([`Overhead`](super::Overhead)), or interrupts delay it each time. A sensor that answers before its time
    /// (tPDHIGH 15 us) looks the same.
    #[error(
        "line low right after each reset, yet it rises in time: the master samples too late (delay too coarse, calls slower than \
         configured), or a sensor answers too early"
    )]
    MasterTooLate,
}

impl<E> LineError<E> {
    /// The same with another error of pins or port: for a line that is built on another.
    pub fn map_master<F>(self, op: impl FnOnce(E) -> F) -> LineError<F> {
        match self {
            Self::StuckLow => LineError::StuckLow,
            Self::NeverIdleHigh => LineError::NeverIdleHigh,
            Self::Disturbed => LineError::Disturbed,
            Self::StrongPullUp(error) => LineError::StrongPullUp(error),
            Self::Master(error) => LineError::Master(op(error)),
            Self::MasterTooLate => LineError::MasterTooLate,
        }
    }
}

/// The most bits that [`Line::transfer_bits`] writes, and reads.
pub(super) const MOST_BITS: u8 = 16;

/// A 1-Wire bus master.
///
/// Required are a reset, one time slot with its length, and a delay; the rest is built from them and may be replaced by masters that do
/// it faster in hardware. Bytes travel least significant bit first.
pub trait Line {
    /// Error of the pins or port below.
    type Error: core::fmt::Debug;

    /// Sends a reset pulse and samples for presence pulses.
    ///
    /// # Errors
    /// [`LineError::StuckLow`], [`LineError::NeverIdleHigh`] or an error of pins or port; [`LineError::Disturbed`] if the line
    /// is pulled low when every presence pulse is over, where the master samples then; [`LineError::StrongPullUp`] if it was closed and failed to
    /// open.
    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>>;

    /// Sends one time slot that writes `bit`, and returns what the line read. A slot that writes 1 is a read slot.
    ///
    /// # Errors
    /// [`LineError::StuckLow`] or [`LineError::NeverIdleHigh`] if the line has not recovered from what was before, or was low for the
    /// whole slot; [`LineError::Disturbed`] if it fell once more within it, where the master samples then;
    /// [`LineError::StrongPullUp`] if it was closed and failed to open; or an error of pins or port.
    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>>;

    /// Waits for at least `us` microseconds with the line idle (or powered, see [`write_byte_and_power`]).
    ///
    /// [`write_byte_and_power`]: Self::write_byte_and_power
    fn delay_us(&mut self, us: u32);

    /// How long one slot takes, in microseconds: polling counts it as time that has passed.
    fn slot_us(&self) -> u32;

    /// Whether this master's slots suit sensors of a family, by the first byte of their ROM codes. Call it for each sensor that is found.
    ///
    /// # Errors
    /// [`TimingError::TooFastFor`] the family. A master that does not know says that they do.
    fn suits(&self, family_code: u8) -> Result<(), TimingError> {
        let _ = family_code;
        Ok(())
    }

    /// Writes `byte` and closes the strong pull-up within 10 us of its last bit (tSPON, DS18B20 datasheet (7/19), AC
    /// table). The line stays powered until [`end_power`](Self::end_power), the next slot or the next reset.
    ///
    /// # Errors
    /// [`LineError::StrongPullUp`] if this master has none, before anything is written; otherwise as [`slot`](Self::slot).
    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        let _ = byte;
        Err(LineError::StrongPullUp(SwitchError::Missing))
    }

    /// Opens the strong pull-up. Does nothing if it is open, or if there is none.
    ///
    /// # Errors
    /// [`LineError::StrongPullUp`] if the switch failed.
    fn end_power(&mut self) -> Result<(), LineError<Self::Error>> {
        Ok(())
    }

    /// Writes one bit and checks that a written 1 is seen on the line.
    ///
    /// # Errors
    /// [`LineError::Disturbed`] if it is not; otherwise as [`slot`](Self::slot).
    fn write_bit(&mut self, bit: bool) -> Result<(), LineError<Self::Error>> {
        if self.slot(bit)? == bit { Ok(()) } else { Err(LineError::Disturbed) }
    }

    /// Writes one byte.
    ///
    /// # Errors
    /// As [`write_bit`](Self::write_bit).
    fn write_byte(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        for position in 0..8 {
            self.write_bit(byte >> position & 1 == 1)?;
        }
        Ok(())
    }

    /// Reads one byte.
    ///
    /// # Errors
    /// As [`slot`](Self::slot).
    fn read_byte(&mut self) -> Result<u8, LineError<Self::Error>> {
        let mut byte = 0;
        for position in 0..8 {
            byte |= u8::from(self.slot(true)?) << position;
        }
        Ok(byte)
    }

    /// Writes all of `bytes`.
    ///
    /// # Errors
    /// As [`write_bit`](Self::write_bit).
    fn write(&mut self, bytes: &[u8]) -> Result<(), LineError<Self::Error>> {
        for &byte in bytes {
            self.write_byte(byte)?;
        }
        Ok(())
    }

    /// Fills `bytes` from the line.
    ///
    /// # Errors
    /// As [`slot`](Self::slot).
    fn read(&mut self, bytes: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        for byte in bytes {
            *byte = self.read_byte()?;
        }
        Ok(())
    }

    /// Writes all parts of `write`, one after the other, and fills `read` from the line.
    ///
    /// The layers above transfer a whole transaction at once where nothing is to be decided in between. Masters for which each
    /// call costs time send it in one piece.
    ///
    /// # Errors
    /// As [`write_bit`](Self::write_bit).
    fn transfer(&mut self, write: &[&[u8]], read: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        for part in write {
            self.write(part)?;
        }
        self.read(read)
    }

    /// Writes the lowest `writes` bits of `bits` and then reads `reads` bits; the lowest is the first. Of either there are 16 at most;
    /// more are neither written nor read.
    ///
    /// A search is made of it: the direction of one step, and the two bits of the next.
    ///
    /// # Errors
    /// As [`write_bit`](Self::write_bit).
    fn transfer_bits(&mut self, bits: u16, writes: u8, reads: u8) -> Result<u16, LineError<Self::Error>> {
        for position in 0..writes.min(MOST_BITS) {
            self.write_bit(bits >> position & 1 == 1)?;
        }
        let mut read = 0;
        for position in 0..reads.min(MOST_BITS) {
            read |= u16::from(self.slot(true)?) << position;
        }
        Ok(read)
    }
}

impl<L: Line + ?Sized> Line for &mut L {
    type Error = L::Error;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        (**self).reset()
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        (**self).slot(bit)
    }

    fn delay_us(&mut self, us: u32) {
        (**self).delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        (**self).slot_us()
    }

    fn suits(&self, family_code: u8) -> Result<(), TimingError> {
        (**self).suits(family_code)
    }

    fn write_byte_and_power(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        (**self).write_byte_and_power(byte)
    }

    fn end_power(&mut self) -> Result<(), LineError<Self::Error>> {
        (**self).end_power()
    }

    fn write_bit(&mut self, bit: bool) -> Result<(), LineError<Self::Error>> {
        (**self).write_bit(bit)
    }

    fn write_byte(&mut self, byte: u8) -> Result<(), LineError<Self::Error>> {
        (**self).write_byte(byte)
    }

    fn read_byte(&mut self) -> Result<u8, LineError<Self::Error>> {
        (**self).read_byte()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LineError<Self::Error>> {
        (**self).write(bytes)
    }

    fn read(&mut self, bytes: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        (**self).read(bytes)
    }

    fn transfer(&mut self, write: &[&[u8]], read: &mut [u8]) -> Result<(), LineError<Self::Error>> {
        (**self).transfer(write, read)
    }

    fn transfer_bits(&mut self, bits: u16, writes: u8, reads: u8) -> Result<u16, LineError<Self::Error>> {
        (**self).transfer_bits(bits, writes, reads)
    }
}
