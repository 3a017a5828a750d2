//! What of a capture was not judged, by name.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::timing::signed;
use slotwise_terms::units::{counted, exact_time};

/// Why a part of a capture is not judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum UnjudgedWhat {
    /// It was sampled in steps in which a legal pulse can pass unseen.
    TooCoarse,
    /// It begins in the middle of something.
    Opening,
    /// It ends in the middle of something.
    End,
    /// Places of the file that could not be read, or where the level is unknown.
    Damage,
    /// Devices that are no thermometers: their commands and answers are not known here.
    OtherFamilies,
    /// The rest was not read.
    Rest,
}

/// A part of a capture that was not judged.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Unjudged {
    /// Why.
    pub what: UnjudgedWhat,
    /// Where it begins, in nanoseconds of the capture.
    pub from_ns: u64,
    /// Where the last of it ends.
    pub to_ns: u64,
    /// How many parts.
    pub count: u64,
    /// The same in a sentence.
    pub text: String,
}

/// Those of a capture, so far.
#[derive(Clone, Debug, Default)]
pub(super) struct UnjudgedParts(Vec<(UnjudgedWhat, u64, u64, u64)>);

impl UnjudgedParts {
    /// Adds a part.
    pub(super) fn add(&mut self, what: UnjudgedWhat, from_ns: u64, to_ns: u64) {
        if let Some(part) = self.0.iter_mut().find(|part| part.0 == what) {
            *part = (what, part.1.min(from_ns), part.2.max(to_ns), part.3 + 1);
        } else {
            self.0.push((what, from_ns, to_ns, 1));
        }
    }

    /// All of them, each kind once.
    pub(super) fn list(mut self, step_ns: u64) -> Vec<Unjudged> {
        self.0.sort_unstable();
        let described = |(what, from_ns, to_ns, count)| {
            let text = match what {
                UnjudgedWhat::TooCoarse => format!(
                    "sampled in steps of {}, in which tREC and tLOW1 of 1 us pass unseen: sample at 1 MHz or faster",
                    exact_time(signed(step_ns))
                ),
                UnjudgedWhat::Opening => "the capture begins in the middle of a transaction".to_owned(),
                UnjudgedWhat::End => "the capture ends in the middle of a transaction".to_owned(),
                UnjudgedWhat::Damage => format!("{} of the file", counted(count, "damaged place")),
                UnjudgedWhat::OtherFamilies => format!(
                    "{} with a device that is no thermometer: its commands are not known here",
                    counted(count, "transaction")
                ),
                UnjudgedWhat::Rest => "the rest was not read".to_owned(),
            };
            Unjudged { what, from_ns, to_ns, count, text }
        };
        self.0.into_iter().map(described).collect()
    }
}
