//! The bridge from outside: its bytes, its sessions, and its service on a virtual line.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod attended;
mod golden;
mod hostile;
mod measured;
mod page;
mod played;
mod rig;
mod samples;
mod service;
mod sessions;
mod talk;
