//! The host's side of a session, against far ends that lose, damage, repeat, delay, forget and lie.

mod anything;
mod ends;
mod far_end;
mod faulty;
mod life;
mod rig;
mod runs;
mod sessions;
mod waits;
