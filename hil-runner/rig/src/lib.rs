//! Rigs: what a scenario runs on, read from a file that people write.
//!
//! A rig file is TOML. It names the sensors that belong on the line and, for a rig in virtual time, says what line and sensors
//! are like; for a real one, what chip it is on and how to reach it, or
//! which serial adapter is the bus master. [`Rig::load`] reads and checks one; whatever is wrong with it comes back as
//! [`InputErrors`](slotwise_terms::input::InputErrors), all of it, with line and column. Some rigs are built in: [`built_in_rig`].
//!
//! ```
//! # use slotwise_rig::Rig;
//! let rig = Rig::parse(
//!     "shed.toml",
//!     r#"
//!         rig = "shed"
//!         kind = "virtual"
//!
//!         [line]
//!         supply = "3.3 V"
//!         pull_up = "4.7 kohm"
//!         cable = "3 m"
//!         ambient = "20 degC"
//!
//!         [[sensor]]
//!         label = "left"
//!         rom = "28:112233445566:56"
//!     "#,
//! )?;
//! assert_eq!(rig.inventory.len(), 1);
//! # Ok::<(), slotwise_terms::input::InputErrors>(())
//! ```
//!
//! The form of the file is described in `guide/rig.md`, which `hil-runner help rig` prints.

mod bridge;
#[cfg(test)]
mod bridge_tests;
mod built_in;
mod correction;
mod edit;
#[cfg(test)]
mod edit_tests;
#[cfg(test)]
mod excerpt_tests;
mod fault;
mod inventory;
pub mod keys;
mod label;
mod model;
mod read;
pub mod reply;
mod sensor;
mod serial;
#[cfg(test)]
mod serial_tests;
mod store;
mod suits;
#[cfg(test)]
mod tests;

pub use built_in::{BUILT_IN_RIGS, built_in_rig, built_in_rig_text};
pub use edit::{Change, EditError};
pub use fault::{Fault, FaultKind, Selection};
pub use label::{LabelProblem, check_label};
pub use model::{
    Behaviour, BridgeRig, Correction, ModemLine, ReferenceSource, Rig, RigCarrier, RigKind, Sensor, SerialRig,
    TimingSet, Twin, VirtualLine,
};
pub use store::{RigFile, StoreError};
