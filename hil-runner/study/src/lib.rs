//! What each resolution is worth on a rig: conversion times and noise as measured, and what follows for speed, tracking, charge and
//! choice. And how healthy a [`line`](mod@line) is.
//!
//! [`measure()`] has every sensor convert alone, at each resolution, and gives it its settings back; [`Study::of`] computes the
//! rest. Constants are the datasheets', each with its place. Nothing here prints.

mod advice;
mod bus_time;
mod conversion;
pub mod datasheet;
mod energy;
pub mod identify;
pub mod line;
mod measure;
mod members;
mod model;
mod noise;
mod rounds;
mod spread;

#[cfg(test)]
mod advice_tests;
#[cfg(test)]
mod measure_tests;

pub use advice::{Advice, AdviceVerdict, Candidate, Met, Relax, advise};
pub use bus_time::{BusSamples, BusTime};
pub use conversion::{ConversionRow, Pace, PartRow};
pub use energy::{ConversionFrom, EnergyRow, Figures, PullUpCurrent, life_days, pull_up_current};
pub use measure::{Abandoned, MeasureOrder, MeasuredSensors, Series, Stage, Why, measure};
pub use members::{Member, Party, Remark, gather};
pub use model::{FailedSeries, STUDY_VERSION, Study, Wishes};
pub use noise::{NoiseRow, NoiseSource, noise_of};
pub use rounds::{RoundRow, TrackingRow, round_us, tracking_celsius};
pub use spread::{TimeSpread, drift_free_deviation};
