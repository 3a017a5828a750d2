//! The sensors of a capture.

use crate::{Grid, TextLook, nothing, table};
use slotwise_waveform::SensorReport;

pub(super) fn lines(look: &TextLook, sensors: &[SensorReport]) -> Vec<String> {
    if sensors.is_empty() {
        return Vec::new();
    }
    let (heading, rows) = rows(sensors);
    let right = &["found", "addressed", "reads", "no good", "last", "bits", "converted", "copied"];
    let mut lines = vec![String::new()];
    lines.extend(table(look, Grid { heading, right, rows }));
    lines
}

/// Names of the columns, and a row for each sensor.
pub(crate) fn rows(sensors: &[SensorReport]) -> (Vec<&'static str>, Vec<Vec<String>>) {
    let heading = vec![
        "sensor",
        "part",
        "found",
        "addressed",
        "reads",
        "no good",
        "last",
        "bits",
        "converted",
        "copied",
        "power",
        "byte 6",
    ];
    (heading, sensors.iter().map(row).collect())
}

fn row(sensor: &SensorReport) -> Vec<String> {
    let number = |number: u64| if number == 0 { nothing() } else { number.to_string() };
    vec![
        sensor.rom.clone().unwrap_or_else(|| "ROM code not seen".into()),
        sensor.part.unwrap_or("unknown").into(),
        number(sensor.found),
        number(sensor.addressed),
        number(sensor.reads),
        number(sensor.bad_reads),
        sensor.last_celsius.as_ref().map_or_else(nothing, |celsius| format!("{celsius} degC")),
        sensor.bits.map_or_else(nothing, |bits| bits.to_string()),
        number(sensor.conversions),
        number(sensor.copies),
        match sensor.is_parasite {
            None => nothing(),
            Some(true) => "parasite".into(),
            Some(false) => "local".into(),
        },
        if sensor.byte_6.is_empty() { nothing() } else { sensor.byte_6.join(" ") },
    ]
}
