//! Scenarios: what is done on a rig and what must come out, read from a file that people write.
//!
//! A scenario file is TOML: a name, cautions, and steps. Each step has one action and, if you like, a label.
//! [`Scenario::load`] reads one and checks it against a [`Rig`](slotwise_rig::Rig), so that every sensor it names is there;
//! whatever is wrong with it comes back as [`InputErrors`](slotwise_terms::input::InputErrors), all of it, with line and column. Some
//! scenarios are built in: [`built_in_scenario`].
//!
//! ```
//! # use slotwise_rig::built_in_rig;
//! # use slotwise_scenario::Scenario;
//! # let rig = built_in_rig("cellar").expect("it is built in");
//! let scenario = Scenario::parse(
//!     "bath.toml",
//!     r#"
//!         scenario = "a check of the brine bath"
//!
//!         [[step]]
//!         label = "every sensor of the inventory answers"
//!         find = { times = 3 }
//!
//!         [[step]]
//!         measure = { sensors = "brine bath", near = { reference = "rig", within = "0.5 degC" } }
//!     "#,
//!     &rig,
//! )?;
//! assert_eq!(scenario.steps[1].label, "measure brine bath, together");
//! # Ok::<(), slotwise_terms::input::InputErrors>(())
//! ```
//!
//! The form of the file is described in `guide/scenario.md`, which `hil-runner help scenario` prints.

mod budget;
mod built_in;
mod fault;
mod fixed_point;
pub mod kept;
mod keys;
mod label;
mod measure;
mod model;
mod purpose;
mod read;
mod selection;
mod step;
#[cfg(test)]
mod tests;
mod words;
mod work;

pub use built_in::{BUILT_IN_SCENARIOS, built_in_scenario, built_in_scenario_text};
pub use model::{
    Action, Bound, Convert, Expectation, FixedPointCheck, MAX_ROUNDS, Measure, Proof, Reference, Save, Scenario, Step,
    Values,
};
