//! How frames travel: what the main loop asks of a carrier, and the carrier that a debug probe reads.

use slotwise_bridge::Incoming;
#[cfg(not(feature = "serial"))]
use slotwise_bridge::watch::Clock;

#[cfg(not(feature = "serial"))]
use crate::rtt::{FRAMES_DOWN, FRAMES_UP};

/// How long a frame may wait for a host that does not read, in milliseconds. Then it is dropped: the host will repeat its request
/// if it is still there, and a bridge that waits for ever cannot be distinguished from one that has crashed.
pub const PATIENCE_MS: u32 = 1_000;

/// A frame was dropped: the host has not read for [`PATIENCE_MS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dropped;

/// Carries bytes from the host and frames to it.
pub trait Carrier: Incoming {
    /// Sends a frame, and waits a bounded time for room.
    ///
    /// # Errors
    /// [`Dropped`] if there was none.
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped>;

    /// Sends a frame if there is room now; a player cannot wait. The host repeats its request.
    ///
    /// # Errors
    /// [`Dropped`] if there was none.
    fn offer(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        self.send(frame)
    }
}

/// Frames through the memory of the chip.
#[cfg(not(feature = "serial"))]
#[derive(Debug)]
pub struct RttCarrier<C> {
    clock: C,
}

#[cfg(not(feature = "serial"))]
impl<C: Clock> RttCarrier<C> {
    /// A carrier whose patience is timed by `clock`.
    pub const fn new(clock: C) -> Self {
        Self { clock }
    }
}

#[cfg(not(feature = "serial"))]
impl<C: Clock> Incoming for RttCarrier<C> {
    fn receive(&mut self) -> Option<u8> {
        FRAMES_DOWN.take()
    }
}

#[cfg(not(feature = "serial"))]
impl<C: Clock> Carrier for RttCarrier<C> {
    fn send(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        let since = self.clock.ticks();
        let patience = (self.clock.hz() / 1_000).saturating_mul(PATIENCE_MS);
        while FRAMES_UP.write_whole(frame).is_none() {
            if self.clock.ticks().wrapping_sub(since) >= patience {
                return Err(Dropped);
            }
        }
        Ok(())
    }

    fn offer(&mut self, frame: &[u8]) -> Result<(), Dropped> {
        FRAMES_UP.write_whole(frame).ok_or(Dropped)
    }
}
