//! Verdicts on what a sensor holds: alarm limits and resolution, in the scratchpad or in EEPROM.

use slotwise::thermometer::{AlarmLimits, Resolution, Saved, Settings};

use slotwise_limits::registers::{Registers, Unsound};
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_rig::reply::{Failure, Trouble};
use slotwise_scenario::Save;
use slotwise_terms::{FailureKind, reasons_text};

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

/// Verdict on the bytes that a sensor holds, nothing having been written. A setting that is not expected may have any value.
#[must_use]
pub fn judge_held(
    resolution: Option<Resolution>,
    alarm: Option<AlarmLimits>,
    bytes: Result<Registers, Unsound>,
) -> Verdict {
    let mut wanted = Vec::new();
    wanted.extend(resolution.map(|resolution| format!("{} bits", resolution.bits())));
    wanted.extend(alarm.map(|alarm| format!("TH {}, TL {}", alarm.high, alarm.low)));
    let (got, ruling) = match bytes {
        Ok(registers) => {
            let is_held = resolution.is_none_or(|wanted| registers.resolution_bits == Some(wanted.bits()))
                && alarm.is_none_or(|wanted| (registers.high, registers.low) == (wanted.high, wanted.low));
            (text((registers.resolution_bits, registers.high, registers.low)), Ruling::met_if(is_held))
        }
        Err(unsound) => (unsound.to_string(), Ruling::NotMet),
    };
    let wanted = if wanted.is_empty() { "sound registers".to_owned() } else { wanted.join(", ") };
    Verdict::new(Check::Settings, wanted, "scenario", got, ruling)
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

/// Verdict on what the driver says it did, by the rig's own count of EEPROM writes.
#[must_use]
pub fn judge_writes(saved: Saved, writes: u64) -> Verdict {
    let expected = u64::from(saved == Saved::Written);
    let words = |writes: u64| match writes {
        0 => "EEPROM not written".to_owned(),
        1 => "EEPROM written once".to_owned(),
        _ => format!("EEPROM written {writes} times"),
    };
    Verdict::new(Check::Saved, words(expected), "rig", words(writes), Ruling::met_if(writes == expected))
}

/// Verdict on a request that had to fail for one of `reasons`, or had to succeed if there are none.
#[must_use]
pub fn judge_refusal<T>(
    check: Check,
    expected: &str,
    reasons: &[FailureKind],
    outcome: &Result<T, Trouble>,
) -> Verdict {
    match (outcome, reasons) {
        (Ok(_), []) => Verdict::new(check, expected, "always", "done", Ruling::Met),
        (Ok(_), _) => Verdict::new(Check::Fails, reasons_text(reasons), "scenario", "no failure", Ruling::NotMet),
        (Err(Trouble::Failed(Failure { kind, text, .. })), reasons) if !reasons.is_empty() => {
            let ruling = Ruling::met_if(reasons.contains(kind));
            Verdict::new(Check::Fails, reasons_text(reasons), "scenario", text, ruling).lost()
        }
        (Err(Trouble::NotPossible { what }), _) => {
            Verdict::new(check, expected, "always", format!("not possible: {what}"), Ruling::CannotTell)
        }
        (Err(trouble), _) => Verdict::new(check, expected, "always", trouble.to_string(), Ruling::NotMet).lost(),
    }
}
