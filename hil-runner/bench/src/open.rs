//! From the file of a rig to the rig.

use std::path::Path;

#[cfg(feature = "serial")]
use super::adapter::open_adapter;
use super::debug_probe::{ChipError, FlashListener, Flashed};
#[cfg(feature = "emulated")]
use super::emulated::{EmulatedChip, open_emulated};
use super::link::LinkError;
use super::operator::Operator;
#[cfg(any(feature = "debug-probe", feature = "serial"))]
use super::real::open_bridge;
#[cfg(feature = "serial")]
use super::serial::PortError;
use super::virtual_line::{LineProblem, open_virtual};
use super::{Bench, Tracing};
use slotwise_rig::reply::BridgeRecord;
use slotwise_rig::{BridgeRig, Rig, RigCarrier, RigKind};
use slotwise_terms::parts::{NotBuiltIn, Part};

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
    #[cfg(feature = "serial")]
    #[error(transparent)]
    Port(#[from] PortError),
    /// There is no session with the bridge.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The emulated chip does not start.
    #[error("the emulated chip does not start: {0}")]
    Emulator(String),
    /// This build has no such rigs.
    #[error(transparent)]
    NotBuiltIn(#[from] NotBuiltIn),
    /// An image was named for a rig that is not flashed.
    #[error("no use for a firmware image: the chip of this rig is not flashed by this tool, or there is none")]
    NoUseForImage,
    /// Its firmware comes another way.
    #[error(
        "a bridge on a serial port is not flashed by this tool: name carrier = \"memory\" and a debug probe in the rig file"
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
                | Self::NotBuiltIn(_)
                | Self::NotFlashed
                | Self::NoUseForImage
        )
    }
}

/// The part of this tool that a rig needs, if it needs one that a build may be without.
#[must_use]
pub const fn needed_part(rig: &Rig) -> Option<Part> {
    match &rig.kind {
        RigKind::Virtual(_) => None,
        RigKind::Emulated(_) => Some(Part::EmulatedChip),
        RigKind::Bridge(bridge) => Some(part_of_carrier(&bridge.carrier)),
        RigKind::Serial(_) => Some(Part::SerialPorts),
    }
}

pub(super) const fn part_of_carrier(carrier: &RigCarrier) -> Part {
    match carrier {
        RigCarrier::Memory { .. } => Part::DebugProbe,
        RigCarrier::Serial { .. } => Part::SerialPorts,
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
    #[cfg(feature = "debug-probe")]
    return super::real::flash_bridge(bridge, image, listener);
    #[cfg(not(feature = "debug-probe"))]
    {
        let _ = (bridge, image, listener);
        Err(NotBuiltIn(Part::DebugProbe).into())
    }
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
        #[cfg(feature = "emulated")]
        RigKind::Emulated(line) => open_emulated(rig, line, (seed, tracing), EmulatedChip::default(), outside),
        #[cfg(any(feature = "debug-probe", feature = "serial"))]
        RigKind::Bridge(bridge) => open_bridge(rig, bridge, outside),
        #[cfg(feature = "serial")]
        RigKind::Serial(serial) => open_adapter(rig, serial, outside),
        #[cfg(not(feature = "emulated"))]
        RigKind::Emulated(_) => Err(NotBuiltIn(Part::EmulatedChip).into()),
        #[cfg(not(any(feature = "debug-probe", feature = "serial")))]
        RigKind::Bridge(bridge) => Err(NotBuiltIn(part_of_carrier(&bridge.carrier)).into()),
        #[cfg(not(feature = "serial"))]
        RigKind::Serial(_) => Err(NotBuiltIn(Part::SerialPorts).into()),
    }
}
