//! The hook that keeps interrupts out of the few microseconds in which they would damage a bit.
//!
//! "A bit operation must not be interrupted" (Application Note 126, requirements). Between slots the line is high and may
//! stay so for any time (DS18B20 datasheet (7/19), Hardware Configuration), so the mask ends as soon as the time that
//! follows has a lower limit only.

/// Runs a piece of code with interrupts masked.
///
/// [`PinLine`](super::PinLine) calls it once per slot: from the falling edge to the sample in a write-1 or read slot
/// (about 13 us), and for the low time of a write-0 slot (about 61 us); and once per reset, from its end to the check that the line
/// has risen (about 10 us). It is never called around the rest of a reset, a wait between slots, or a conversion.
pub trait InterruptMask {
    /// Runs `slot` with interrupts masked and returns what it returns.
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R;
}

/// Masks nothing: for hosts, and for chips on which no interrupt takes longer than a microsecond or two.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Unmasked;

impl InterruptMask for Unmasked {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        slot()
    }
}

/// Masks interrupts through the implementation of the `critical-section` crate that the program has chosen.
#[cfg(feature = "critical-section")]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CriticalSection;

#[cfg(feature = "critical-section")]
impl InterruptMask for CriticalSection {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        critical_section::with(|_| slot())
    }
}
