//! Chips beside the first on the line of an emulated rig: each with a debug probe, all in one virtual time.

use slotwise_emulated_mcu::{CHIP_NAME, ChipConfig, PinName, Port, Wiring};

use super::hands::EmulatedHands;
use super::open::next_serial;
use crate::OpenError;
use crate::debug_probe::{Attached, ChipError, SilentListener, TimeSource, attach, bring_up, open_rtt, packed_player};
use crate::link::Link;

/// A further chip on the line: one that plays sensors, or one that listens.
#[derive(Clone, Debug, Default)]
pub struct FurtherChip {
    /// How much faster than nominal its clock is, in millionths.
    pub clock_error_ppm: i32,
    /// What the flash holds before.
    pub flash: Vec<u8>,
}

impl FurtherChip {
    /// Its data pin is that of the board file of the firmware for the STM32F103; its switches are joined to nothing.
    pub(super) fn config(&self, seed: u64) -> ChipConfig {
        ChipConfig {
            clock_error_ppm: self.clock_error_ppm,
            flash: self.flash.clone(),
            serial: next_serial(),
            ..ChipConfig::new(seed, Wiring::data_only(PinName::new(Port::B, 6)))
        }
    }
}

/// The further chips of a rig that is open, by their places from 0 in the list that it was opened with.
///
/// Time is one for all: a frame that is carried to one chip takes the time of all. A chip that the list does not have is none: calls
/// panic.
#[derive(Clone)]
pub struct FurtherChips(pub(super) EmulatedHands);

impl FurtherChips {
    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.0.mcu.count() - 1
    }

    /// Attaches to a further chip, by its debug probe.
    ///
    /// # Errors
    /// [`ChipError`] if that fails.
    pub fn attach(&self, index: usize) -> Result<Attached, ChipError> {
        attach(self.0.0.mcu.debug_probe(index + 1), CHIP_NAME, None)
    }

    /// Flashes a further chip with the packed image that plays sensors and listens, and opens a session with it.
    ///
    /// # Errors
    /// [`OpenError`] if it does not come up.
    pub fn open_player(&self, index: usize) -> Result<Link, OpenError> {
        let image = packed_player(CHIP_NAME).map_err(ChipError::from)?;
        let mut attached = self.attach(index)?;
        bring_up(&mut attached, &image, &mut SilentListener)?;
        let carrier = open_rtt(attached, &image, self.time())?;
        let mut link = Link::open(Box::new(carrier), 1)?;
        link.note_image(image.size);
        Ok(link)
    }

    /// The time of the rig, for a carrier of frames to a further chip.
    #[must_use]
    pub fn time(&self) -> impl TimeSource + Clone + use<> {
        self.0.clone()
    }
}
