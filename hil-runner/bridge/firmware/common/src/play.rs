//! Sensors and listener on the pin of a board: one sample after the other, with the host served where the line leaves time for it.

use embedded_hal::digital::{InputPin, OutputPin};
use slotwise_bridge::message::Master;
use slotwise_bridge::play::{PlayEndpoint, Stage};
use slotwise_bridge::watch::Clock;
use slotwise_bridge::{Guard, Host, Identity, Switches};
use slotwise_player::listen::Room;
use slotwise_player::{Input, Moment, Player, Port};

use crate::assemble::CARRIER;
use crate::carrier::{Carrier, Dropped};
use crate::rtt::EDGES;
use crate::{Board, VERSION};

/// A data pin and the clock.
#[derive(Debug)]
pub struct PinPort<P, C> {
    pin: P,
    clock: C,
}

impl<P, C> PinPort<P, C> {
    /// The pin must be an open drain.
    pub const fn new(pin: P, clock: C) -> Self {
        Self { pin, clock }
    }
}

impl<P: InputPin, C: Clock> Input for PinPort<P, C> {
    // Some 5 us at 72 MHz.
    const SAMPLES: u32 = 32;

    #[inline(always)]
    fn is_low(&mut self) -> bool {
        // The pins of these chips do not fail; one that did would read high, and no sensor would answer.
        self.pin.is_low().unwrap_or(false)
    }

    #[inline(always)]
    fn ticks(&mut self) -> u32 {
        self.clock.ticks()
    }
}

impl<P: InputPin + OutputPin, C: Clock> Port for PinPort<P, C> {
    #[inline(always)]
    fn drive_low(&mut self) {
        let _ = self.pin.set_low();
    }

    #[inline(always)]
    fn release(&mut self) {
        let _ = self.pin.set_high();
    }
}

/// The channel of the edges.
#[derive(Debug, Default)]
pub struct EdgesRoom;

impl Room for EdgesRoom {
    #[inline]
    fn free(&self) -> usize {
        EDGES.free()
    }

    #[inline]
    fn push(&mut self, byte: u8) {
        EDGES.push(byte);
    }
}

/// The endpoint of a board.
pub type BoardPlayEndpoint<'p, P, C, W> = PlayEndpoint<'p, PinPort<P, C>, EdgesRoom, W>;

/// The endpoint of a board, and the first lines of its log.
pub fn play_endpoint<P, C, W>(
    board: Board,
    player: &mut Player,
    pin: P,
    clock: C,
    switches: W,
) -> BoardPlayEndpoint<'_, P, C, W>
where
    P: InputPin + OutputPin,
    C: Clock,
    W: Switches,
{
    let Board { chip, core_hz, reset } = board;
    defmt::info!("slotwise player {=str} on {=str}, core clock {=u32} Hz", VERSION, chip, core_hz);
    defmt::info!("reset by {=str}", reset.words());
    let identity = Identity {
        version: VERSION,
        driver: VERSION,
        chip,
        master: Master::Pin,
        carrier: CARRIER,
        core_hz,
        tick_hz: core_hz,
        strong_pull_up: false,
        reset,
    };
    PlayEndpoint::new(identity, Stage::new(core_hz, player, PinPort::new(pin, clock), EdgesRoom, switches))
}

/// Samples between two feeds of the watchdog on a line that leaves no time for the host: some milliseconds.
const SAMPLES_A_FEED: u32 = 8_192;

/// Plays or listens for ever. Interrupts are masked: none is used, and an answer cannot wait.
#[inline(always)]
pub fn play_for_ever<P, C, W, H, G>(endpoint: &mut BoardPlayEndpoint<'_, P, C, W>, host: &Host<H, G>) -> !
where
    P: InputPin + OutputPin,
    C: Clock,
    W: Switches,
    H: Carrier,
    G: Guard,
{
    cortex_m::interrupt::disable();
    let mut samples: u32 = 0;
    loop {
        if endpoint.stage().poll() == Moment::Busy {
            samples = samples.wrapping_add(1);
            if samples % SAMPLES_A_FEED == 0 {
                host.feed();
            }
            continue;
        }
        host.feed();
        if let Some(byte) = host.receive() {
            talk(endpoint, host, byte);
        } else {
            endpoint.idle();
        }
    }
}

/// One byte of the host. Apart from the loop: it is rare, and what it needs of the stack is its own.
#[inline(never)]
fn talk<P, C, W, H, G>(endpoint: &mut BoardPlayEndpoint<'_, P, C, W>, host: &Host<H, G>, byte: u8)
where
    P: InputPin + OutputPin,
    C: Clock,
    W: Switches,
    H: Carrier,
    G: Guard,
{
    let sent = endpoint.take(byte).map(|frame| host.with_carrier(|carrier| carrier.offer(frame)));
    // A frame takes long; a byte within one takes no longer than a few samples.
    if sent.is_some() || byte == 0 {
        endpoint.stage().was_away();
    }
    if let Some(Some(Err(Dropped))) = sent {
        defmt::warn!("no host reads: frame dropped");
    }
}
