//! What was found, faults first.

use crate::TextLook;
use crate::look::Ink;
use slotwise_terms::units::moment;
use slotwise_waveform::{Cause, Finding, WaveformReport, Weight};

pub(super) fn lines(look: &TextLook, report: &WaveformReport) -> Vec<String> {
    let mut lines = vec![String::new()];
    lines.extend(report.findings.iter().map(|finding| line(look, finding)));
    if report.findings_not_kept > 0 {
        lines.push(look.wrap("", &format!("and {} more, of other kinds", report.findings_not_kept)));
    }
    if lines.len() > 1 {
        lines.push(String::new());
    }
    lines
}

fn line(look: &TextLook, finding: &Finding) -> String {
    let (ink, word) = match finding.weight {
        Weight::Fault => (Ink::Bad, "fault    "),
        Weight::Doubt => (Ink::Odd, "doubt    "),
    };
    let text = look.wrap(word, &sentence(finding));
    // The word in colour, and the rest as it is.
    match text.strip_prefix(word) {
        Some(rest) => format!("{}{rest}", ink.on(word)),
        None => text,
    }
}

/// A finding in a sentence: when, who, what, how often.
pub(crate) fn sentence(finding: &Finding) -> String {
    let sensor: String = finding.sensors.iter().map(|sensor| format!("{sensor}, ")).collect();
    // A time says in its sentence how often.
    let often = if finding.last_ns == finding.at_ns {
        String::new()
    } else {
        format!("; {} times, last at {}", finding.count, moment(finding.last_ns))
    };
    format!("{}, {sensor}{}: {}{often}", moment(finding.at_ns), cause(finding.cause), finding.text)
}

/// Where it comes from.
const fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Master => "master",
        Cause::Sensor => "sensor",
        Cause::Line => "line",
    }
}
