//! What follows from the measurements: readings per second, tracking, charge and life.

use super::numbers::{celsius, days, milliseconds, seconds, three};
use super::{bits, grid, heading, note};
use crate::{TextLook, nothing};
use slotwise_study::{BusTime, ConversionFrom, Figures, RoundRow, Study};
use slotwise_terms::units::count;

pub(super) fn tell(look: &TextLook, study: &Study) -> Vec<String> {
    let mut lines: Vec<String> =
        heading(look, "readings per second of all sensors together, with one Convert T for all").into();
    match &study.bus {
        Some(bus) => {
            lines.extend(rounds(look, study, bus));
            lines.extend(tracking(look, study));
        }
        None => lines.push(note(look, "this rig does not tell how long its requests take, so nothing can be said")),
    }
    lines.extend(energy(look, study));
    lines
}

fn rounds(look: &TextLook, study: &Study, bus: &BusTime) -> Vec<String> {
    let mut numbers: Vec<u32> = study.rounds.iter().map(|row| row.sensors).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let mut columns = vec!["bits".to_owned(), "conversion".to_owned()];
    columns.extend(numbers.iter().map(|number| count(*number as usize, "sensor")));
    let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
    let cell = |row: &RoundRow, round_us: Option<f64>| round_us.map_or_else(nothing, |us| three(row.per_second(us)));
    let mut rows = Vec::new();
    for conversion in &study.conversions {
        let own = || study.rounds.iter().filter(|row| row.resolution_bits == conversion.resolution_bits);
        let label = || bits(conversion.resolution_bits);
        if own().any(|row| row.measured_us.is_some()) {
            let cells = own().map(|row| cell(row, row.measured_us));
            rows.push([label(), "slowest measured".into()].into_iter().chain(cells).collect());
        }
        let cells = own().map(|row| cell(row, Some(row.datasheet_us)));
        rows.push([label(), "datasheet max".into()].into_iter().chain(cells).collect());
    }
    let mut lines = grid(look, &columns, 2, rows);
    lines.push(note(
        look,
        &format!(
            "n / (Convert T {} ms + conversion + n x {} ms), the median of {} reads by Match ROM + Read Scratchpad on this line",
            milliseconds(bus.convert_us),
            milliseconds(bus.read.median_us.into()),
            bus.read.number
        ),
    ));
    if study.sensors_without_choice() > 0 {
        let who = count(study.sensors_without_choice() as usize, "DS18S20");
        lines.push(note(
            look,
            &format!("with {who} on the line a shared Convert T is done no sooner than theirs, at any resolution"),
        ));
    }
    lines
}

fn tracking(look: &TextLook, study: &Study) -> Vec<String> {
    let wishes = &study.wishes;
    let per_minute = wishes.rate_celsius_per_h / 60.0;
    let title = format!(
        "tracking error in degC at {} degC/min, {}",
        three(per_minute),
        count(wishes.sensors as usize, "sensor")
    );
    let mut lines: Vec<String> = heading(look, &title).into();
    let until = format!("{} later", seconds(wishes.interval_s));
    let columns = ["bits", "step", "age, ms", "as it arrives", &until];
    let rows = study.tracking.iter().zip(&study.noise).map(|(row, noise)| {
        vec![
            bits(row.resolution_bits),
            celsius(noise.step_celsius),
            milliseconds(row.age_s * 1e6),
            celsius(row.fresh_celsius),
            celsius(row.stale_celsius),
        ]
    });
    lines.extend(grid(look, &columns, 2, rows.collect()));
    let text = "at most rate x age + step; the age of the last reading of a round counts from Convert T, with the datasheet max. The \
                lag of sensor and tube behind their surroundings is not in it.";
    lines.push(note(look, text));
    lines
}

fn energy(look: &TextLook, study: &Study) -> Vec<String> {
    let wishes = &study.wishes;
    let title = format!(
        "charge and current, a reading of each of {} every {}: sensors only",
        count(wishes.sensors as usize, "sensor"),
        seconds(wishes.interval_s)
    );
    let mut lines: Vec<String> = heading(look, &title).into();
    let columns = ["bits", "currents", "ms", "uC", "uJ", "uA", "cell lasts", "with pull-up"];
    let life = |days_left: Option<f64>| days_left.map_or_else(nothing, days);
    let rows = study.energy.iter().map(|row| {
        let mark = match (row.figures, row.conversion_from) {
            (Figures::Typical, ConversionFrom::Datasheet) => " *",
            _ => "",
        };
        vec![
            bits(row.resolution_bits),
            match row.figures {
                Figures::Typical => "typical".into(),
                Figures::Maximum => "maximum".into(),
            },
            format!("{}{mark}", milliseconds(row.conversion_us.into())),
            three(row.charge_uc),
            row.energy_uj.map_or_else(nothing, three),
            row.average_ua.map_or_else(|| "too short".into(), three),
            life(row.life_days),
            life(row.life_with_pull_up_days),
        ]
    });
    lines.extend(grid(look, &columns, 2, rows.collect()));
    if study.energy.iter().any(|row| row.average_ua.is_none()) {
        lines.push(note(look, "too short: the interval is shorter than the conversion"));
    }
    if study
        .energy
        .iter()
        .any(|row| (row.figures, row.conversion_from) == (Figures::Typical, ConversionFrom::Datasheet))
    {
        lines.push(note(look, "* the datasheet max: on parasite power no sensor shows the end of a conversion"));
    }
    lines.extend(energy_notes(look, study));
    lines
}

fn energy_notes(look: &TextLook, study: &Study) -> Vec<String> {
    let wishes = &study.wishes;
    let mut lines = vec![note(
        look,
        "of one sensor: ms of conversion, uC and uJ of one reading, uA on average: (active x conversion + standby x rest) / interval + 5 uA into DQ; active 1 \
         and 1.5 mA, standby 0.75 and 1 uA (to 70 degC), by the DS18B20 datasheet (7/19), DC table, at 5 V. Microcontroller, bridge \
         and regulator are not in it.",
    )];
    match &study.pull_up {
        Some(pull_up) => lines.push(note(
            look,
            &format!(
                "through the pull-up while the line is low: {} uA on average, {} uA (V / R) for at most {} ms every {}, waiting by \
                 time; each look at a busy sensor adds up to 60 us",
                three(pull_up.average_ua),
                three(pull_up.low_ua),
                milliseconds(pull_up.low_us),
                seconds(wishes.interval_s)
            ),
        )),
        None => lines.push(note(look, "the current through the pull-up is not known: this rig does not say what pull-up it has")),
    }
    match (wishes.cell_mah, wishes.volts) {
        (Some(mah), _) => lines.push(note(
            look,
            &format!(
                "the cell: {} mAh / current; neither self-discharge nor a cut-off voltage is modelled",
                three(mah)
            ),
        )),
        (None, None) => lines.push(note(look, "no energy without a voltage: --cell-volts \"3.3 V\"")),
        (None, Some(_)) => {}
    }
    lines
}
