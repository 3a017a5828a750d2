//! Why a request has no reply: every end of a session by its name.

use std::time::Duration;

use slotwise_bridge::message::{DEAD_MAN_MS, ResetCause};

use super::CarrierError;

/// Why a request has no reply.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LinkError {
    /// Nothing arrives, or no answer to the request.
    #[error(
        "the bridge is silent: no answer to {tries} tries in {} ms{}",
        .waited.as_millis(),
        .condition.as_ref().map_or(String::new(), |condition| format!("; {condition}"))
    )]
    Silent {
        /// How many requests were sent.
        tries: u32,
        /// How long altogether.
        waited: Duration,
        /// What is known of it otherwise.
        condition: Option<String>,
    },
    /// Frames come back, and they are damaged.
    #[error("garbled frames come from the bridge: {damaged} of them, and no answer to {tries} tries")]
    Garbled {
        /// How many frames were damaged.
        damaged: u32,
        /// How many requests were sent.
        tries: u32,
    },
    /// Frames arrive, and the bridge does not receive ours intact.
    #[error("the bridge receives garbled frames: it said so {complaints} times in {tries} tries")]
    NotHeard {
        /// How often it said so.
        complaints: u32,
        /// How many requests were sent.
        tries: u32,
    },
    /// The bridge was reset and does not know this session any more.
    #[error("the bridge was reset in mid-run by {}: it no longer knows this session", .cause.words())]
    Reset {
        /// By what.
        cause: ResetCause,
    },
    /// A request to play sensors or to listen went to a master, or the other way round.
    #[error(
        "the firmware on the bridge is for another role: one image is the master, another plays sensors and listens"
    )]
    OtherRole,
    /// Another program has opened a session.
    #[error("another program took the bridge over in mid-run")]
    TakenOver,
    /// The bridge took this program for gone.
    #[error(
        "the bridge heard nothing from this tool for {} s, opened its switches and ended the session",
        DEAD_MAN_MS / 1_000
    )]
    HostGone,
    /// The bridge counts otherwise.
    #[error("the bridge expects request {expected} of this session, not {sent}: another program talks to it as well")]
    OutOfStep {
        /// The number that the bridge expects.
        expected: u16,
        /// The number that was sent.
        sent: u16,
    },
    /// The request was ended because the user wants to end.
    #[error("the request was ended early, as wanted")]
    Cancelled,
    /// The request asks for more time than the bridge gives.
    #[error("the bridge refuses a conversion that may take longer than {} ms", .most_us / 1_000)]
    OutOfBounds {
        /// The most.
        most_us: u32,
    },
    /// The session could not be opened, and this is what the firmware logged.
    #[error("{error}; the firmware's log: {}", .log.join("; "))]
    Opening {
        /// Why.
        error: Box<LinkError>,
        /// Its lines, each with its level.
        log: Vec<String>,
    },
    /// Host and bridge speak different versions of the protocol.
    #[error(
        "the firmware on the bridge, version {bridge_version}, speaks protocol {bridge}; \
         this tool, version {}, speaks protocol {host}",
        env!("CARGO_PKG_VERSION")
    )]
    Protocol {
        /// The bridge's.
        bridge: u8,
        /// Version of its firmware.
        bridge_version: String,
        /// Ours.
        host: u8,
    },
    /// The bridge breaks the rules of the protocol.
    #[error("the bridge breaks the protocol: {0}")]
    Broken(String),
    /// The carrier failed.
    #[error(transparent)]
    Carrier(#[from] CarrierError),
}
