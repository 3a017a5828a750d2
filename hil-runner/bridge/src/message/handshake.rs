//! The handshake. These messages keep their layout for good; a newer version may only add fields at the end.

use serde::{Deserialize, Serialize};

use super::{NoSession, ResetCause};

/// Longest text in a handshake, in bytes (chosen). The bridge cuts its own to this, so that its answer always fits into a frame.
pub const MAX_TEXT: usize = 32;

/// The beginning of a text, no longer than [`MAX_TEXT`].
pub(crate) fn short(text: &str) -> &str {
    let mut end = text.len().min(MAX_TEXT);
    // Ends at 0 at the latest, which is a boundary.
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or_default()
}

/// The host's first words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello<'a> {
    /// Version of the host tool.
    pub version: &'a str,
}

/// The bridge's first words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Welcome<'a> {
    /// Version of the firmware.
    pub version: &'a str,
    /// Version of the driver in it.
    pub driver: &'a str,
    /// The chip it was built for.
    pub chip: &'a str,
    /// What the bus master is made of.
    pub master: Master,
    /// How the frames travel.
    pub carrier: Carrier,
    /// Core clock, in hertz. 0 where there is none.
    pub core_hz: u32,
    /// Ticks of the clock that times the line, per second.
    pub tick_hz: u32,
    /// What else is connected.
    pub fitted: Fitted,
    /// Why the chip was last reset.
    pub reset: ResetCause,
}

/// What a bus master is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Master {
    /// A pin and a clock.
    Pin,
    /// A UART.
    Uart,
}

/// How frames travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Carrier {
    /// In process, or in an emulator's.
    InProcess,
    /// Through the memory of the chip, by the debug probe.
    Memory,
    /// Through a serial port.
    Serial,
}

/// What is connected to the bridge besides the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitted {
    /// A strong pull-up for parasite-powered sensors.
    pub strong_pull_up: bool,
    /// A switch in the supply of pull-up and sensors.
    pub supply_switch: bool,
    /// A switch that shorts the line to ground.
    pub short_switch: bool,
}

/// Why the bridge has not even tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal<'a> {
    /// The frame is intact, and of another protocol version. Its sender's version is in the frame, the bridge's in the header
    /// of this one.
    Protocol {
        /// The version that the host speaks.
        yours: u8,
        /// Version of the firmware.
        version: &'a str,
    },
    /// There is no such session, or no more.
    NoSession {
        /// Why.
        why: NoSession,
    },
    /// This is neither the next request nor the last one again.
    OutOfOrder {
        /// The number that the next request must have.
        expected: u16,
    },
    /// The check sum is right, and the payload is no request.
    Unreadable,
    /// Something arrived that is no frame. Session and sequence of this refusal mean nothing.
    Damaged,
    /// The frame is intact and of this protocol version, which has no such kind.
    UnknownKind {
        /// The kind.
        kind: u8,
    },
    /// The request asks for more time than the bridge gives.
    OutOfBounds {
        /// The most that `max_us` may be.
        most_us: u32,
    },
}
