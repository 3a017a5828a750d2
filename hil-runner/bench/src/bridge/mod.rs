//! The one bench of every rig: requests go to a bridge, be it a chip, an emulated one, or the same service in this process.
//!
//! What hands do to a rig is the business of its [`Hands`](super::Hands); switches of the bridge stand in for hands where
//! there are none.

mod answers;
mod asking;
mod patience;

pub use asking::BridgeBench;
