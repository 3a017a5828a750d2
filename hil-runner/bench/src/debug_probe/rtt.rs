//! Frames and logs through the memory of the chip.

use std::time::Duration;

use probe_rs::rtt::{Error as RttError, Rtt, ScanRegion};
use probe_rs::{Core, CoreStatus, Session};

use super::attach::Attached;
use super::error::{ChipError, chain};
use super::image::Image;
use super::logs::Logs;
use super::time::TimeSource;
use crate::link::{Carrier, CarrierError, LogLine};

/// Channels of the firmware.
const FRAMES: usize = 0;
const LOG: usize = 1;
const EDGES: usize = 2;
/// How long the firmware may take to open its channels, and to take bytes from a full one.
const UP_WITHIN: Duration = Duration::from_secs(2);
const ROOM_WITHIN: Duration = Duration::from_secs(2);
/// Most bytes of one poll of a channel.
const POLL_BYTES: usize = 1024;

/// Carries frames by a debug probe.
pub struct RttCarrier<T> {
    session: Session,
    rtt: Rtt,
    rtt_address: u64,
    logs: Logs,
    time: T,
}

/// Opens the channels of a firmware that has just been started.
///
/// # Errors
/// [`ChipError`] if it does not open them within a bounded time.
pub fn open_rtt<T: TimeSource>(attached: Attached, image: &Image, time: T) -> Result<RttCarrier<T>, ChipError> {
    let Attached { mut session, .. } = attached;
    let logs = Logs::of(image)?;
    let deadline = time.now() + UP_WITHIN;
    loop {
        let mut core = session.core(0).map_err(|error| ChipError::Lost(chain(&error)))?;
        match open_channels(&mut core, image.rtt_address) {
            Ok(Some(rtt)) => {
                drop(core);
                return Ok(RttCarrier { session, rtt, rtt_address: image.rtt_address, logs, time });
            }
            Ok(None) if time.now() < deadline => {}
            Ok(None) => {
                let state = state_of(&mut core);
                return Err(ChipError::NoFirmware(format!("no channels within {} s; {state}", UP_WITHIN.as_secs())));
            }
            Err(error) => return Err(ChipError::Lost(chain(&error))),
        }
        drop(core);
        time.pause();
    }
}

/// The channels, if the firmware has opened them.
fn open_channels(core: &mut Core<'_>, address: u64) -> Result<Option<Rtt>, probe_rs::Error> {
    match Rtt::attach_region(core, &ScanRegion::Exact(address)) {
        Ok(mut rtt) => {
            let complete = rtt.up_channel(FRAMES).is_some() && rtt.down_channel(FRAMES).is_some();
            Ok(complete.then_some(rtt))
        }
        Err(RttError::Probe(error)) => Err(error),
        Err(_) => Ok(None),
    }
}

fn state_of(core: &mut Core<'_>) -> String {
    match core.status() {
        Ok(CoreStatus::Running | CoreStatus::Sleeping) => "the chip runs".into(),
        Ok(CoreStatus::Halted(reason)) => format!("the chip has stopped ({reason:?})"),
        Ok(CoreStatus::LockedUp) => "the chip is locked up after a fault".into(),
        Ok(CoreStatus::Unknown) => "what the chip does is not known".into(),
        Err(error) => format!("the chip does not say what it does: {}", chain(&error)),
    }
}

impl<T: TimeSource> RttCarrier<T> {
    /// Polls a channel. A channel that a reset has closed is opened anew and has no bytes.
    fn poll(&mut self, channel: usize) -> Result<Vec<u8>, CarrierError> {
        let mut core = self.session.core(0).map_err(|error| lost(&error))?;
        let Some(up) = self.rtt.up_channel(channel) else { return Ok(Vec::new()) };
        let mut bytes = vec![0; POLL_BYTES];
        match up.read(&mut core, &mut bytes) {
            Ok(count) => {
                bytes.truncate(count);
                Ok(bytes)
            }
            Err(RttError::Probe(error)) => Err(lost(&error)),
            Err(_) => {
                // The channels are being opened anew: the chip was reset.
                if let Some(rtt) = open_channels(&mut core, self.rtt_address).map_err(|error| lost(&error))? {
                    self.rtt = rtt;
                }
                Ok(Vec::new())
            }
        }
    }

    fn take_log(&mut self) -> Result<(), CarrierError> {
        let bytes = self.poll(LOG)?;
        if !bytes.is_empty() {
            let at_ns = u64::try_from(self.time.now().as_nanos()).unwrap_or(u64::MAX);
            self.logs.take(&bytes, at_ns);
        }
        Ok(())
    }
}

fn lost(error: &probe_rs::Error) -> CarrierError {
    CarrierError::Lost(format!("the debug probe or its chip was lost: {}", chain(error)))
}

impl<T: TimeSource> Carrier for RttCarrier<T> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        let mut rest = bytes;
        let deadline = self.time.now() + ROOM_WITHIN;
        loop {
            let mut core = self.session.core(0).map_err(|error| lost(&error))?;
            let down = self.rtt.down_channel(FRAMES).ok_or_else(|| CarrierError::Lost("a channel is gone".into()))?;
            let taken = match down.write(&mut core, rest) {
                Ok(taken) => taken,
                Err(RttError::Probe(error)) => return Err(lost(&error)),
                Err(_) => 0,
            };
            drop(core);
            rest = rest.get(taken..).unwrap_or_default();
            if rest.is_empty() {
                return Ok(());
            }
            if self.time.now() >= deadline {
                return Err(CarrierError::Full { for_how_long: ROOM_WITHIN });
            }
            self.time.pause();
        }
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        let deadline = self.time.now() + patience;
        loop {
            let received = self.poll(FRAMES)?;
            if !received.is_empty() {
                bytes.extend(received);
                return self.take_log();
            }
            if self.time.now() >= deadline {
                return self.take_log();
            }
            self.time.pause();
        }
    }

    fn take_edges(&mut self) -> Result<Vec<u8>, CarrierError> {
        let mut all = Vec::new();
        loop {
            let bytes = self.poll(EDGES)?;
            let whole = bytes.len() < POLL_BYTES;
            all.extend(bytes);
            if whole {
                return Ok(all);
            }
        }
    }

    fn now(&self) -> Duration {
        self.time.now()
    }

    fn take_logs(&mut self) -> Vec<LogLine> {
        self.logs.lines()
    }

    fn condition(&mut self) -> Option<String> {
        let mut core = self.session.core(0).ok()?;
        Some(state_of(&mut core))
    }
}
