//! Captures that are painted here, edge by edge, so that every time in them is known.

mod circumstances;
mod conversations;
mod counted;
mod levels;
mod limits;
mod overdrive;
mod reads;
mod settings;
mod signals;
mod story;
mod worked;
