//! The executor: does the steps of a scenario on a rig, one after the other, and reports what happens as events.
//!
//! It prints nothing and writes nothing. Whoever wants to know is a [`Listener`](slotwise_record::Listener).

#![allow(missing_docs)]

mod configure;
mod controls;
mod dead_line;
mod executor;
mod explain;
mod find;
mod fixed_point;
pub mod fresh;
mod halt;
mod holds;
pub mod judge;
mod measure;
mod own_line;
mod readings;
mod repeat;
pub mod survey;
mod thinning;

#[cfg(test)]
mod broken_line_tests;
#[cfg(test)]
mod fixed_point_tests;
#[cfg(test)]
mod link_tests;
#[cfg(test)]
mod record_tests;
#[cfg(any(test, feature = "for-tests"))]
pub mod sample;
#[cfg(test)]
mod tests;

pub use dead_line::{is_lost, is_of_line};
pub use executor::{Order, execute, never_began, skip};
