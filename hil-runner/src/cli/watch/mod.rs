//! The live view of `read --watch` on a terminal.
//!
//! The sensors are read on the thread that the rig belongs to; `screen` draws and listens to keys on another one, so
//! that a key is answered while a conversion goes on. Between them go [`News`] one way and [`Wishes`] the other. What
//! is shown is a plain [`State`], and `view` draws it.

mod screen;
mod state;
mod trend;
mod view;

pub(super) use screen::{Screen, Wishes, give_back};
pub(super) use state::{News, Round, State};
pub(super) use view::Colours;
