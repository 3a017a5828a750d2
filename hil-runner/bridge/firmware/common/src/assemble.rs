//! Puts driver, watch and service together on the pins of a board.

use embedded_hal::digital::{InputPin, OutputPin};
use slotwise::line::{CriticalSection, Overhead, PinLine, StrongPullUp, Timing};
use slotwise_bridge::message::{Carrier, Master, ResetCause};
use slotwise_bridge::watch::{Clock, Watch, WatchedDelay, WatchedPin};
use slotwise_bridge::{Attendance, Attended, Endpoint, Identity, InterlockedPullUp, Service, Switches};

use crate::panic::restart;

/// Version of the firmware, which is that of the driver and the bridge in it: all are packages of one project.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// How the frames of this firmware travel.
pub(crate) const CARRIER: Carrier = if cfg!(feature = "serial") { Carrier::Serial } else { Carrier::Memory };

/// The driver's line on a watched pin, with interrupts masked inside each slot and nowhere else, and a host that can end its waits.
pub type BoardLine<'w, P, C, S, H> = Attended<
    PinLine<WatchedPin<&'w Watch<P, C>>, WatchedDelay<&'w Watch<P, C>>, CriticalSection, InterlockedPullUp<'w, S>>,
    &'w H,
>;

/// The endpoint on such a line.
pub type BoardEndpoint<'w, P, C, S, W, H> = Endpoint<BoardLine<'w, P, C, S, H>, &'w Watch<P, C>, W, &'w H>;

/// What a chip is.
#[derive(Clone, Copy, Debug)]
pub struct Board {
    /// Its name.
    pub chip: &'static str,
    /// Its core clock, which is also the rate of the clock that times the line.
    pub core_hz: u32,
    /// Why it was last reset.
    pub reset: ResetCause,
}

/// The endpoint of a board, and the first lines of its log. What calls cost is measured before the first edge.
pub fn endpoint<'w, P, C, S, W, H>(
    board: Board,
    watch: &'w Watch<P, C>,
    host: &'w H,
    pull_up: InterlockedPullUp<'w, S>,
    switches: W,
) -> BoardEndpoint<'w, P, C, S, W, H>
where
    P: InputPin + OutputPin,
    C: Clock,
    S: StrongPullUp,
    W: Switches,
    H: Attendance,
{
    let Board { chip, core_hz, reset } = board;
    let Ok(line) = PinLine::new(watch.pin(), watch.delay(), Timing::SHORT_LINE) else { restart() };
    let Ok(mut line) = line.with_mask(CriticalSection).with_strong_pull_up(pull_up) else { restart() };
    let identity = Identity {
        version: VERSION,
        driver: VERSION,
        chip,
        master: Master::Pin,
        carrier: CARRIER,
        core_hz,
        tick_hz: core_hz,
        strong_pull_up: S::FITTED,
        reset,
    };
    defmt::info!("slotwise bridge {=str} on {=str}, core clock {=u32} Hz", VERSION, chip, core_hz);
    defmt::info!("reset by {=str}", reset.words());
    let Ok(Overhead { pin_write_ns, pin_read_ns, delay_ns }) = line.calibrate(core_hz, || watch.clock().ticks()) else {
        defmt::error!("the line is out of reach for a chip as slow as this one");
        restart()
    };
    defmt::info!(
        "calls cost: set pin {=u32} ns, read pin {=u32} ns, delay {=u32} ns",
        pin_write_ns,
        pin_read_ns,
        delay_ns
    );
    let line = Attended::new(line, host);
    Endpoint::attended(Service::new(identity, line, watch, switches), host)
}
