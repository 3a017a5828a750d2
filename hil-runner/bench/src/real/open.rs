//! From the file of a rig to a bridge with a session.

#[cfg(feature = "debug-probe")]
use std::path::Path;
use std::time::Duration;

use super::hands::RealHands;
use crate::bridge::BridgeBench;
use crate::debug_probe::{ChipError, WallTime};
#[cfg(feature = "debug-probe")]
use crate::debug_probe::{FlashListener, Flashed, attach, bring_up, chosen_image, open_debug_probe, open_rtt};
use crate::link::{Carrier, Link};
#[cfg(not(all(feature = "debug-probe", feature = "serial")))]
use crate::open::part_of_carrier;
#[cfg(feature = "serial")]
use crate::serial::open_serial;
use crate::{Bench, OpenError, Outside};
#[cfg(feature = "debug-probe")]
use slotwise_rig::reply::{BridgeRecord, ImageRecord};
use slotwise_rig::{BridgeRig, Rig, RigCarrier};
#[cfg(not(all(feature = "debug-probe", feature = "serial")))]
use slotwise_terms::parts::NotBuiltIn;

/// How long supply and line may take to come up. Chosen: 100 uF of decoupling behind a weak switch of 100 ohm are up after 50 ms.
const SUPPLY_SETTLES: Duration = Duration::from_millis(50);

/// What is on the chip now.
#[cfg(feature = "debug-probe")]
struct OnChip {
    /// Whether it was put there just now.
    flashed: Flashed,
    /// What it takes.
    image: ImageRecord,
}

/// Flashes the bridge if need be, and opens a session.
pub(crate) fn open_bridge(rig: &Rig, bridge: &BridgeRig, outside: Outside<'_>) -> Result<Box<dyn Bench>, OpenError> {
    #[cfg(feature = "debug-probe")]
    let Outside { image, listener, operator } = outside;
    #[cfg(not(feature = "debug-probe"))]
    let operator = outside.operator;
    let time = WallTime::start();
    let (carrier, image): (Box<dyn Carrier>, _) = match &bridge.carrier {
        #[cfg(feature = "debug-probe")]
        RigCarrier::Memory { .. } => {
            let (flashed, carrier) = flashed(bridge, image, listener, time)?;
            (Box::new(carrier), Some(flashed.image))
        }
        #[cfg(feature = "serial")]
        RigCarrier::Serial { port } => (open_serial(port)?, None),
        #[cfg(not(all(feature = "debug-probe", feature = "serial")))]
        _ => return Err(NotBuiltIn(part_of_carrier(&bridge.carrier)).into()),
    };
    let mut link = Link::open(carrier, session_number())?;
    if let Some(image) = image {
        link.note_image(image);
    }
    let said = &link.peer().record.chip;
    if !bridge.chip.to_ascii_uppercase().starts_with(&said.to_ascii_uppercase()) {
        let found = format!("it is a {said}");
        return Err(ChipError::WrongChip { expected: bridge.chip.clone(), found }.into());
    }
    let hands = RealHands::new(rig, bridge.reference, operator, time);
    let mut bench = BridgeBench::new(link, hands, rig)?;
    if bridge.supply_switch {
        // It opened when the tool was last gone, and has just been closed.
        std::thread::sleep(SUPPLY_SETTLES);
        bench.show_life();
    }
    Ok(Box::new(bench))
}

/// Flashes the bridge if it does not hold the firmware, and sees that it answers.
#[cfg(feature = "debug-probe")]
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

/// Flashes the bridge if need be, without a session.
///
/// # Errors
/// [`OpenError`] if that fails.
#[cfg(feature = "debug-probe")]
fn flashed(
    bridge: &BridgeRig,
    image: Option<&Path>,
    listener: &mut dyn FlashListener,
    time: WallTime,
) -> Result<(OnChip, impl Carrier + use<>), OpenError> {
    let RigCarrier::Memory { debug_probe, wire_khz } = &bridge.carrier else {
        return Err(OpenError::NotFlashed);
    };
    let image = chosen_image(image.or(bridge.image.as_deref()), &bridge.chip).map_err(ChipError::from)?;
    let mut attached = attach(open_debug_probe(debug_probe.as_deref())?, &bridge.chip, *wire_khz)?;
    let flashed = bring_up(&mut attached, &image, listener)?;
    Ok((OnChip { flashed, image: image.size }, open_rtt(attached, &image, time)?))
}

/// A number that the session before is most unlikely to have had: the lower bits of the time of day in nanoseconds.
pub(crate) fn session_number() -> u32 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
    // The lower bits are those that change.
    (since.as_nanos() as u32) | 1
}
