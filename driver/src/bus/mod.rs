//! Layer 2, the bus: which sensors are on the line, and which of them are addressed.
//!
//! [`Bus`] owns a [`Line`](crate::line::Line) and sends the ROM commands of the datasheets on it: [`search`](Bus::search)
//! for all sensors, for one family or for those in alarm; [`survey`](Bus::survey) for the union of several searches;
//! [`is_present`](Bus::is_present) for one; [`select`](Bus::select) with Match ROM or Skip ROM; [`read_rom`](Bus::read_rom) for a sensor that is alone.

mod rom;
mod roster;
mod search;
mod select;
mod survey;

pub use crate::crc::{crc8, crc16};
pub use rom::{FamilyCode, ParseRomError, RomCode, RomError};
pub use roster::Roster;
pub use search::{Search, SearchError, SearchPosition, SearchScope};
pub use select::{Bus, SelectError, Target};
pub use survey::{Survey, Surveyed};
