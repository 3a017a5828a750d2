//! What is the simplest that can have happened?
//!
//! Read in order, one pulse too many shifts all bits after it, and one fault would be reported as five. So the pulses of a
//! transaction are kept until it is over. Where they make no sense, or less than they could, other readings are tried: without a pulse,
//! with two pulses taken for one, with a bit that its length leaves open taken the other way. The one that leaves the least to explain
//! is what is reported, and what it changed is reported as well.

mod cost;
mod edit;
mod explainer;

pub use explainer::Explainer;
