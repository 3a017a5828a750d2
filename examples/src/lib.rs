//! What the examples for a Linux board are made of: the reader of lines, and a serial port as bus master.
#![forbid(unsafe_code)]

pub mod port;
pub mod reader;
