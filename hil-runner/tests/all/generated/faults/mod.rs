//! One fault of each class: what is wrong, when, whose it is, and what a judge has to say.

mod answers;
mod capture;
mod commands;
mod model;
mod noise;
mod sensor_times;
mod supply;
mod times;

pub use model::{Expected, LeftOut, Truth, classes, make};
