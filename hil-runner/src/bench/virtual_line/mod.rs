//! A line in virtual time: built from the file of a rig, taken hold of, and served by the bridge's own service in this process.

mod build;
mod faults;
mod hands;
mod on_line;
mod service;

#[cfg(test)]
mod tests;

pub use build::{OpenError, Tracing, open_virtual};
