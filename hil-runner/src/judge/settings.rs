//! Verdicts on what a sensor holds: alarm limits and resolution, in the scratchpad or in EEPROM.

use slotwise::thermometer::{Resolution, Saved, Settings};

use super::reasons::reasons_text;
use super::{Check, Registers, Ruling, Unsound, Verdict};
use crate::bench::{Failure, Trouble};
use crate::scenario::{FailureKind, Save};

/// Resolution in bits, TH and TL.
pub(super) type Held = (Option<u8>, i8, i8);

/// Settings for people.
#[must_use]
pub(super) fn text((bits, high, low): Held) -> String {
    let resolution = bits.map_or(String::new(), |bits| format!("{bits} bits, "));
    format!("{resolution}TH {high}, TL {low}")
}

fn wanted(settings: Settings) -> Held {
    (settings.resolution.map(Resolution::bits), settings.limits.high, settings.limits.low)
}

/// Verdict on the bytes that a sensor holds after `settings` were written, or after they were recalled from EEPROM.
#[must_use]
pub fn judge_settings(check: Check, settings: Settings, bytes: Result<Registers, Unsound>) -> Verdict {
    let wanted = wanted(settings);
    let (got, ruling) = match bytes {
        Ok(registers) => {
            let held = (registers.resolution_bits, registers.high, registers.low);
            (text(held), Ruling::met_if(held == wanted))
        }
        Err(unsound) => (unsound.to_string(), Ruling::NotMet),
    };
    Verdict::new(check, text(wanted), "scenario", got, ruling)
}

/// Verdict on whether EEPROM was written.
#[must_use]
pub fn judge_saved(save: Save, saved: Saved) -> Verdict {
    let got = match saved {
        Saved::Unchanged => "EEPROM not written, it held the settings already",
        Saved::Written => "EEPROM written",
    };
    let (expected, ruling) = match save {
        Save::Unchanged => ("EEPROM not written", Ruling::met_if(saved == Saved::Unchanged)),
        Save::IfChanged | Save::No => ("EEPROM written only if it held other settings", Ruling::Met),
    };
    Verdict::new(Check::Saved, expected, "scenario", got, ruling)
}

/// Verdict on a request that had to fail for one of `reasons`, or had to succeed if there are none.
#[must_use]
pub fn judge_refusal<T>(check: Check, expected: &str, reasons: &[FailureKind], came: &Result<T, Trouble>) -> Verdict {
    match (came, reasons) {
        (Ok(_), []) => Verdict::new(check, expected, "always", "done", Ruling::Met),
        (Ok(_), _) => Verdict::new(Check::Fails, reasons_text(reasons), "scenario", "no failure", Ruling::NotMet),
        (Err(Trouble::Failed(Failure { kind, text, .. })), reasons) if !reasons.is_empty() => {
            let ruling = Ruling::met_if(reasons.contains(kind));
            Verdict::new(Check::Fails, reasons_text(reasons), "scenario", text, ruling)
        }
        (Err(Trouble::NotPossible { what }), _) => {
            Verdict::new(check, expected, "always", format!("not possible: {what}"), Ruling::CannotTell)
        }
        (Err(trouble), _) => Verdict::new(check, expected, "always", trouble.to_string(), Ruling::NotMet),
    }
}
