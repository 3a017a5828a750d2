//! What every image has: the registers of an imaginary chip, a pin, a clock, and a panic handler that leaves a mark.

#![no_std]

mod board;
mod panic;
mod registers;

pub use board::{Clock, Pin};
pub use panic::panicked;
pub use registers::{read, write};
