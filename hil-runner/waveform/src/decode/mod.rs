//! From low pulses to transactions: resets and presence pulses, slots, commands, ROM codes and data.
//!
//! On the line all parties look the same: whoever pulls, it is low. What a pulse is, and whose, follows from its length and from
//! what is due: a falling edge is the master's except in the presence pulse; in a read slot a sensor may hold it.
//!
//! ```text
//! pulse ── opening, frame ── reset, presence, slot, stray
//!                              └── decoder, by the grammar of the commands ── transaction
//! ```

mod bits;
mod borders;
mod command;
mod decoder;
mod event;
mod explain;
mod frame;
mod grammar;
mod habits;
mod opening;
mod speed;
mod transaction;

pub use borders::Borders;
pub(super) use command::{
    ALARM_SEARCH, CONVERT_T, COPY_SCRATCHPAD, MATCH_ROM, OVERDRIVE_MATCH_ROM, OVERDRIVE_SKIP_ROM, READ_POWER_SUPPLY,
    READ_ROM, RECALL_E2, SEARCH_ROM, SKIP_ROM, WRITE_SCRATCHPAD,
};
pub use command::{READ_SCRATCHPAD, function_name, rom_command_name};
pub use decoder::Decoder;
pub use event::{Event, Role, Slot};
pub use explain::Explainer;

pub use habits::{Habits, LowRange, LowRanges};
pub use speed::Speed;
pub use transaction::{Addressing, Bytes, Phase, Presence, Reset, SearchEnd, Transaction, Triplet, chosen_rom};
