//! Puts driver, watch and service together on the pins of a board.

use embedded_hal::digital::{InputPin, OutputPin};
use slotwise::line::{CriticalSection, PinLine, StrongPullUp, Timing};
use slotwise_bridge::message::{Carrier, Master};
use slotwise_bridge::watch::{Clock, Watch, WatchedDelay, WatchedPin};
use slotwise_bridge::{Endpoint, Identity, Service, Switches};

use crate::overhead::OverheadCycles;
use crate::panic::restart;

/// Version of the firmware, which is that of the driver and the bridge in it: all are packages of one project.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// How the frames of this firmware travel.
const CARRIER: Carrier = if cfg!(feature = "serial") { Carrier::Serial } else { Carrier::Rtt };

/// The driver's line on a watched pin, with interrupts masked inside each slot and nowhere else.
pub type BoardLine<'w, P, C, S> =
    PinLine<WatchedPin<&'w Watch<P, C>>, WatchedDelay<&'w Watch<P, C>>, CriticalSection, S>;

/// The endpoint on such a line.
pub type BoardEndpoint<'w, P, C, S, W> = Endpoint<BoardLine<'w, P, C, S>, &'w Watch<P, C>, W>;

/// The endpoint of a board, and the first line of its log. `core_hz` is also the rate of the clock.
pub fn endpoint<'w, P, C, S, W>(
    chip: &'static str,
    core_hz: u32,
    watch: &'w Watch<P, C>,
    pull_up: S,
    switches: W,
    overhead: OverheadCycles,
) -> BoardEndpoint<'w, P, C, S, W>
where
    P: InputPin + OutputPin,
    C: Clock,
    S: StrongPullUp,
    W: Switches,
{
    let Ok(line) = PinLine::new(watch.pin(), watch.delay(), Timing::RECOMMENDED) else { restart() };
    let Ok(line) = line.with_mask(CriticalSection).with_strong_pull_up(pull_up) else { restart() };
    let identity = Identity {
        version: VERSION,
        driver: VERSION,
        chip,
        master: Master::Pin,
        carrier: CARRIER,
        core_hz,
        tick_hz: core_hz,
        strong_pull_up: S::FITTED,
    };
    defmt::info!("slotwise bridge {=str} on {=str}, core clock {=u32} Hz", VERSION, chip, core_hz);
    Endpoint::new(Service::new(identity, line.with_overhead(overhead.at(core_hz)), watch, switches))
}
