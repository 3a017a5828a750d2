//! What is the simplest that can have happened?
//!
//! Read as they come, one pulse too many turns all bits after it into others, and one fault would be told as five. So the pulses of a
//! transaction are kept until it is over. Where they make no sense, or less than they could, other readings are tried: without a pulse,
//! with two pulses taken for one, with a bit that its length leaves open taken the other way. The one that leaves the least to explain
//! is what is reported, and what it changed is reported as well.

mod cost;
mod edit;
mod explainer;

pub use explainer::Explainer;
