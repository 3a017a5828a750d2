//! From the file of a rig to the rig.

use std::path::Path;

use super::adapter::open_adapter;
use super::debug_probe::{ChipError, FlashListener, Flashed, WallTime};
use super::emulated::{EmulatedChip, open_emulated};
use super::link::{Link, LinkError};
use super::operator::Operator;
use super::real::{flashed, open_bridge, session_number};
use super::serial::PortError;
use super::virtual_line::{LineProblem, open_virtual};
use super::{Bench, Tracing};
use crate::reply::BridgeRecord;
use crate::rig::{BridgeRig, Rig, RigKind};

/// Why a rig cannot be made ready.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// There is no such line.
    #[error(transparent)]
    Line(#[from] LineProblem),
    /// The chip cannot be brought up.
    #[error(transparent)]
    Chip(#[from] ChipError),
    /// The port cannot be opened.
    #[error(transparent)]
    Port(#[from] PortError),
    /// There is no session with the bridge.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The emulated chip does not start.
    #[error("the emulated chip does not start: {0}")]
    Emulator(String),
    /// An image was named for a rig that is not flashed.
    #[error("no use for a firmware image: the chip of this rig is not flashed by this tool, or there is none")]
    NoUseForImage,
    /// Its firmware comes another way.
    #[error(
        "a bridge on a serial port is not flashed by this tool: name carrier = \"rtt\" and a debug probe in the rig file"
    )]
    NotFlashed,
}

impl OpenError {
    /// Whether what was typed or written is at fault, and not the rig.
    #[must_use]
    pub const fn is_bad_input(&self) -> bool {
        matches!(
            self,
            Self::Line(LineProblem::Line(_) | LineProblem::Sensor { .. })
                | Self::Chip(ChipError::Image(_) | ChipError::UnknownChip { .. } | ChipError::WireSpeed { .. })
                | Self::NotFlashed
                | Self::NoUseForImage
        )
    }
}

/// What comes from outside a rig's file.
pub struct Outside<'a> {
    /// The firmware image to use instead of that of the rig.
    pub image: Option<&'a Path>,
    /// Who wants to know how the chip is brought up.
    pub listener: &'a mut dyn FlashListener,
    /// Who can lend a hand.
    pub operator: Option<Box<dyn Operator>>,
}

/// Flashes the bridge of a rig if it does not hold the firmware, and sees that it answers.
///
/// # Errors
/// [`OpenError`] if that fails.
pub fn flash_bridge(
    bridge: &BridgeRig,
    image: Option<&Path>,
    listener: &mut dyn FlashListener,
) -> Result<(Flashed, BridgeRecord), OpenError> {
    let (flashed, carrier) = flashed(bridge, image, listener, WallTime::start())?;
    let mut link = Link::open(Box::new(carrier), session_number())?;
    link.note_image(flashed.image);
    Ok((flashed.flashed, link.peer().record.clone()))
}

/// Makes a rig ready. All that is random about it comes from `seed`.
///
/// # Errors
/// [`OpenError`] if it cannot be made ready.
pub fn open(rig: &Rig, seed: u64, tracing: Tracing, outside: Outside<'_>) -> Result<Box<dyn Bench>, OpenError> {
    if outside.image.is_some() && !rig.is_flashed() {
        return Err(OpenError::NoUseForImage);
    }
    match &rig.kind {
        RigKind::Virtual(line) => open_virtual(rig, line, seed, tracing),
        RigKind::Emulated(line) => open_emulated(rig, line, (seed, tracing), EmulatedChip::default(), outside),
        RigKind::Bridge(bridge) => open_bridge(rig, bridge, outside),
        RigKind::Serial(serial) => open_adapter(rig, serial, outside),
    }
}
