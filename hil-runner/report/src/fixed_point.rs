//! A check at a fixed point in words and in a table.

use std::collections::BTreeSet;

use super::step::label;
use super::verdicts::{painted, worst};
use super::{Grid, MARGIN, TextLook, table};
use slotwise_record::{BathState, FixedPointRecord, FixedPointSensor};
use slotwise_record::{Check, Verdict};
use slotwise_terms::units::{celsius, count, hundredths, rig_time, signed_thousandths};

/// A check that passed, in a sentence.
pub(super) fn sentence(found: &FixedPointRecord, verdicts: &[Verdict]) -> String {
    let most = found.sensors.iter().map(|sensor| sensor.correction_millicelsius.unsigned_abs()).max().unwrap_or(0);
    let bath = verdicts.iter().find(|verdict| verdict.check == Check::Stable);
    format!(
        "{} at {}, off by at most {}; {}",
        count(found.sensors.len(), "sensor"),
        celsius(found.millicelsius),
        hundredths(i32::try_from(most).unwrap_or(i32::MAX)),
        bath.map_or("", |verdict| verdict.got.as_str())
    )
}

/// All sensors in the bath.
pub(super) fn lines(look: &TextLook, found: &FixedPointRecord, verdicts: &[Verdict]) -> Vec<String> {
    let rows: Vec<Vec<String>> = found.sensors.iter().map(|sensor| row(found, sensor, verdicts)).collect();
    let mut lines = Vec::new();
    if !rows.is_empty() {
        let heading = vec!["sensor", "ROM code", "reads", "span", "drift", "correction", "verdict"];
        let right = &["reads", "span", "drift", "correction"];
        lines.extend(table(look, Grid { heading, right, rows }).into_iter().map(painted));
    }
    let window = rig_time(found.window_ns);
    let rounds = count(found.rounds as usize, "round");
    let text = format!("{}; {rounds} of readings, window of {window}", found.source);
    lines.push(super::look::Ink::Faint.on(look.wrap(MARGIN, &text)));
    let sources: BTreeSet<&str> = verdicts
        .iter()
        .filter(|verdict| verdict.check == Check::Near)
        .filter_map(|verdict| verdict.source.split_once("; ").map(|(_, limit)| limit))
        .collect();
    lines.extend(
        sources.iter().map(|source| super::look::Ink::Faint.on(look.wrap(MARGIN, &format!("limit by {source}")))),
    );
    lines
}

/// In a bath that is not stable, no number says anything.
fn row(found: &FixedPointRecord, sensor: &FixedPointSensor, verdicts: &[Verdict]) -> Vec<String> {
    let about = verdicts.iter().filter(|verdict| verdict.sensor.as_ref() == Some(&sensor.sensor));
    let (correction, verdict) = match found.bath {
        BathState::Stable => (signed_thousandths(sensor.correction_millicelsius), worst(about).word().to_owned()),
        BathState::NotStable => (super::nothing(), "not stable".into()),
    };
    vec![
        label(&sensor.sensor),
        sensor.sensor.rom.to_string(),
        celsius(sensor.mean_millicelsius),
        hundredths(i32::try_from(sensor.span_millicelsius).unwrap_or(i32::MAX)),
        signed_thousandths(sensor.drift_millicelsius),
        correction,
        verdict,
    ]
}
