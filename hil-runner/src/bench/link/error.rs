//! Why a request has no reply: every end of a session by its name.

use std::time::Duration;

use super::CarrierError;

/// Why a request has no reply.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LinkError {
    /// Nothing comes back, or nothing that was asked for.
    #[error(
        "the bridge is silent: no answer to {tries} tries in {} ms{}",
        .waited.as_millis(),
        .condition.as_ref().map_or(String::new(), |condition| format!("; {condition}"))
    )]
    Silent {
        /// How often it was asked.
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
        /// How often it was asked.
        tries: u32,
    },
    /// Frames arrive, and the bridge does not receive ours intact.
    #[error("the bridge receives garbled frames: it said so {complaints} times in {tries} tries")]
    NotHeard {
        /// How often it said so.
        complaints: u32,
        /// How often it was asked.
        tries: u32,
    },
    /// The bridge does not know this session any more.
    #[error("the bridge was reset in mid-run, or another program took it over: it no longer knows this session")]
    Reset,
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
