//! What a bench is made of, for the tests of those who use one.

pub use super::bridge::BridgeBench;
pub use super::virtual_line::{OnLine, VirtualHands, build_line, in_process};
