//! The line in one sentence, as the bridge measured it in the first step that reset it.

use std::fmt::Write as _;

use super::TextLook;
use super::step::place;
use slotwise_record::{Objection, Record};
use slotwise_rig::reply::{LineRecord, SpreadRecord};
use slotwise_terms::units::{count, microseconds, rig_time};

/// A line of the report; none where the bridge measured nothing.
pub(super) fn tell(look: &TextLook, record: &Record) -> Option<String> {
    let step = record.steps.iter().find(|step| step.line_report.is_some_and(|line| line.resets > 0))?;
    let line = step.line_report?;
    let unseen = if record.end.port.is_some() { "pulses not measured" } else { "no pulse seen" };
    let mut sentence_text = sentence(&line, &place(&step.place), unseen);
    if let Some(port) = &record.end.port {
        // It hears bytes: of what is between two of them it knows nothing.
        let _ = write!(
            sentence_text,
            "; {} bytes in {} through the serial adapter, which cannot look at the line between slots",
            port.bytes,
            count(usize::try_from(port.round_trips).unwrap_or(usize::MAX), "round trip")
        );
        if let Some(what) = &port.presence_unchecked {
            let _ = write!(sentence_text, "; {what}");
        }
    }
    Some(look.wrap("line: ", &sentence_text))
}

/// What the judge of captures has against the recorded line, in a sentence.
pub(super) fn objection(Objection { at_ns, sensors, text }: &Objection) -> String {
    let of = if sensors.is_empty() { String::new() } else { format!(", {}", sensors.join(", ")) };
    format!("{}{of}: {text}", rig_time(*at_ns))
}

/// Which part of the recorded line was not judged, and why; nothing if all was.
pub(super) fn not_judged(record: &Record) -> Option<String> {
    let capture = record.end.capture.as_ref()?;
    let first = capture.not_judged.first()?;
    let ns: u64 = capture.not_judged.iter().map(|part| part.to_ns.saturating_sub(part.from_ns)).sum();
    let parts = match capture.not_judged.as_slice() {
        [part] => format!("{} to {}", rig_time(part.from_ns), rig_time(part.to_ns)),
        parts => format!(
            "{}, the first {} to {}",
            count(parts.len(), "part"),
            rig_time(first.from_ns),
            rig_time(first.to_ns)
        ),
    };
    Some(format!(
        "{} of it were not judged ({parts}): {}; {} were judged",
        rig_time(ns),
        first.why,
        rig_time(capture.judged_ns)
    ))
}

/// `unseen` is what is said where nothing was measured.
fn sentence(line: &LineRecord, step: &str, unseen: &str) -> String {
    let mut parts = Vec::new();
    let mut part = |what: &str, spread: Option<SpreadRecord>| {
        parts.extend(spread.map(|spread| format!("{what} {}", range(spread))));
    };
    part("rises within", line.rise_ns);
    part("presence after", line.presence_delay_ns);
    part("for", line.presence_width_ns);
    let grain = if line.grain_ns > 0 { format!(" (to within {})", microseconds(line.grain_ns)) } else { String::new() };
    let measured = if parts.is_empty() { unseen.to_owned() } else { parts.join(", ") };
    let resets = count(usize::try_from(line.resets).unwrap_or(usize::MAX), "reset");
    let slots = count(usize::try_from(line.slots).unwrap_or(usize::MAX), "slot");
    format!("{measured}{grain}; {resets}, {slots} in step {step}")
}

/// `31.2 us`, or `28.0 us to 31.2 us`.
fn range(SpreadRecord { least, most }: SpreadRecord) -> String {
    if least == most { microseconds(least) } else { format!("{} to {}", microseconds(least), microseconds(most)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_measured_is_shown_with_its_grain() {
        let spread = |least, most| Some(SpreadRecord { least, most });
        let line = LineRecord {
            resets: 3,
            slots: 1_200,
            rise_ns: spread(640, 640),
            presence_delay_ns: spread(28_040, 31_160),
            presence_width_ns: spread(120_000, 120_000),
            grain_ns: 210,
            ..LineRecord::default()
        };
        assert_eq!(
            sentence(&line, "1", "no pulse seen"),
            "rises within 0.6 us, presence after 28.0 us to 31.2 us, for 120.0 us (to within 0.2 us); 3 resets, 1200 slots \
             in step 1"
        );
    }

    #[test]
    fn a_line_on_which_nothing_was_seen_is_reported_so() {
        let line = LineRecord { resets: 1, ..LineRecord::default() };
        assert_eq!(sentence(&line, "7", "no pulse seen"), "no pulse seen; 1 reset, 0 slots in step 7");
    }
}
