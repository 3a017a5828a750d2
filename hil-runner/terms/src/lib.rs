//! Words of the trade as types, and how they are written: what every other part may use, and what uses none of them.

pub mod built_in;
mod failure;
pub mod files;
pub mod fixed_point;
pub mod input;
pub mod notation;
pub mod parts;
mod stop;
pub mod units;

pub use failure::FailureKind;
pub use failure::reasons_text;
pub use stop::Stop;
