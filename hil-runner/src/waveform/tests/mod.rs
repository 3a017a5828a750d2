//! Captures that are painted here, edge by edge, so that every time in them is known.

mod circumstances;
mod conversations;
mod counted;
mod damaged;
mod levels;
mod limits;
mod overdrive;
pub(in crate::waveform) mod paint;
mod reads;
mod settings;
mod signals;
mod story;
mod worked;
