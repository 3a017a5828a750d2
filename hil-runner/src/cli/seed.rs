//! A seed for those who ask for none.

use std::hash::{BuildHasher, RandomState};

/// The seed asked for, or a new one, of at most ten digits so that it is easily typed.
pub(super) fn seed_or_new(asked: Option<u64>) -> u64 {
    // The keys of the standard library's hasher are random in each process.
    asked.unwrap_or_else(|| RandomState::new().hash_one(std::process::id()) >> 32)
}
