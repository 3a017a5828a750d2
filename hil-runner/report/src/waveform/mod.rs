//! A capture on a terminal: what it is, who is on the line, the times, what was found, and the verdict.

mod findings;
mod sensors;
mod times;
mod transaction;

#[cfg(test)]
mod damaged_tests;
#[cfg(test)]
mod tests;

use super::look::Ink;
use super::{MARGIN, TextLook};
use slotwise_terms::units::{count, counted, exact_time, moment, rig_time};
use slotwise_waveform::timing::signed;
use slotwise_waveform::{Outcome, Unjudged, WaveformReport, Weight};

pub use transaction::played_line;
pub use transaction::transaction_line;

#[cfg(feature = "pages")]
pub(super) use findings::sentence as finding_text;
#[cfg(feature = "pages")]
pub(super) use sensors::rows as sensor_rows;
#[cfg(feature = "pages")]
pub(super) use times::texts as time_texts;

/// Damaged places that have a line of their own.
const DAMAGES_SHOWN: usize = 5;

/// The whole report of a capture, line by line.
#[must_use]
pub fn waveform_lines(look: &TextLook, file: &str, report: &WaveformReport) -> Vec<String> {
    let mut lines =
        vec![look.wrap("capture  ", &capture_text(file, report)), look.wrap("line     ", &activity_text(report))];
    lines.extend(unjudged(look, report));
    lines.extend(damages(look, report));
    lines.extend(sensors::lines(look, &report.sensors));
    lines.extend(times::lines(look, report));
    lines.extend(findings::lines(look, report));
    lines.extend(report.replay.as_ref().map(|replay| transaction::replay_line(look, replay)));
    lines.push(verdict(look, report));
    lines
}

/// What was read, and how finely.
pub(super) fn capture_text(file: &str, report: &WaveformReport) -> String {
    let long = report.to_ns.saturating_sub(report.from_ns);
    let steps = match report.step_ns {
        0 | 1 => "times to the nanosecond".to_owned(),
        step => format!("in steps of {}: times are known to less than one, up and down", exact_time(signed(step))),
    };
    let way = if report.is_inverted { " (captured inverted: high is read for low)" } else { "" };
    format!("{file}, signal {}{way}: {}, {steps}", report.signal, rig_time(long))
}

/// How much there was on the line.
pub(super) fn activity_text(report: &WaveformReport) -> String {
    let activity = &report.activity;
    let long = report.to_ns.saturating_sub(report.from_ns).max(1);
    let mut parts = vec![counted(activity.resets, "reset")];
    if activity.resets > 0 {
        parts.push(match activity.unanswered {
            0 => "all answered".into(),
            number => format!("{number} unanswered"),
        });
    }
    parts.push(counted(activity.slots, "slot"));
    if activity.fast_slots > 0 {
        parts.push(format!("{} of them at overdrive speed", activity.fast_slots));
    }
    if activity.unassigned > 0 {
        parts.push(format!("{} before the first reset", activity.unassigned));
    }
    if activity.strays > 0 {
        parts.push(counted(activity.strays, "stray pulse"));
    }
    // A share of a time, for which a float is fine.
    parts.push(format!("busy {:.1} % of the time", activity.busy_ns as f64 * 100.0 / long as f64));
    parts.join(", ")
}

/// What of the capture was not judged.
fn unjudged(look: &TextLook, report: &WaveformReport) -> Vec<String> {
    let line = |part: &Unjudged| Ink::Odd.on(look.wrap("not judged ", &unjudged_text(part)));
    report.unjudged.iter().map(line).collect()
}

/// A part that was not judged in a sentence: where, and why.
pub(super) fn unjudged_text(part: &Unjudged) -> String {
    let until = if part.to_ns == part.from_ns { String::new() } else { format!(" to {}", moment(part.to_ns)) };
    format!("{}{until}: {}", moment(part.from_ns), part.text)
}

fn damages(look: &TextLook, report: &WaveformReport) -> Vec<String> {
    let mut lines: Vec<String> = report
        .damages
        .iter()
        .take(DAMAGES_SHOWN)
        .map(|damage| {
            let text = format!("line {} (read up to {}): {}", damage.line, moment(damage.at_ns), damage.why);
            Ink::Odd.on(look.wrap("damaged  ", &text))
        })
        .collect();
    let more = report.damaged - lines.len() as u64;
    if more > 0 {
        let rest = if report.is_given_up { "; the rest of the file was not read" } else { "" };
        lines.push(Ink::Odd.on(look.wrap(MARGIN, &format!("and {} more{rest}", counted(more, "damaged place")))));
    }
    lines
}

/// The verdict in a sentence, its word first.
pub(super) fn verdict_text(report: &WaveformReport) -> String {
    let faults = report.weighing(Weight::Fault).count();
    let hints = match report.weighing(Weight::Doubt).count() {
        0 => String::new(),
        number => format!("; {}", count(number, "doubt")),
    };
    let text = match report.outcome {
        Outcome::Sound => "all was judged, and nothing is against the datasheets".to_owned(),
        Outcome::SoundWithDoubts => "all was judged, and nothing is against the datasheets".to_owned(),
        Outcome::Faulty => format!("{} of fault", count(faults, "kind")),
        Outcome::Incomplete => {
            let parts: Vec<&str> = report.unjudged.iter().map(|part| part.text.as_str()).collect();
            format!("what was judged is sound, and not all was: {}", parts.join("; "))
        }
        Outcome::NothingSeen => "no reset, so nothing could be judged".to_owned(),
    };
    format!("{}: {text}{hints}", word(report.outcome))
}

const fn word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Sound => "SOUND",
        Outcome::SoundWithDoubts => "SOUND, with doubts",
        Outcome::Faulty => "FAULTY",
        Outcome::Incomplete => "INCOMPLETE",
        Outcome::NothingSeen => "NOTHING SEEN",
    }
}

fn verdict(look: &TextLook, report: &WaveformReport) -> String {
    let ink = match report.outcome {
        Outcome::Sound => Ink::Good,
        Outcome::Faulty => Ink::Bad,
        Outcome::SoundWithDoubts | Outcome::Incomplete | Outcome::NothingSeen => Ink::Odd,
    };
    let word = word(report.outcome);
    look.wrap("", &verdict_text(report)).replacen(word, &ink.on(word), 1)
}
