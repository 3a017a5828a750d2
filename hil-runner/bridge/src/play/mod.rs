//! A bridge that plays sensors or listens: its requests, and its side of a session.
//!
//! Frames, handshake and numbering are those of a master; requests travel in frames of the kinds Play and Played, so that neither kind of
//! bridge mistakes a request for one of the other: it refuses the kind.

mod carry_out;
mod endpoint;
mod message;

pub use carry_out::{Stage, stage_clock};
pub use endpoint::PlayEndpoint;
pub use message::{Listening, PlayAnswer, PlayRequest, TRANSACTIONS_A_REPLY, Transactions};
