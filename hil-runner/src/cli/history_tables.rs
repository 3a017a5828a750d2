//! Answers of a history as tables.

use slotwise_history::regression::RunComparison;
use slotwise_past::{FindingRow, FindingState, KnownSensor, RunDetail, RunRow, SensorDay};
use slotwise_record::StepOutcome;
use slotwise_report::{Grid, TextLook, table};
use slotwise_terms::units::{celsius, celsius_of_sixteenths, count, rig_time};

fn or_dash(text: Option<String>) -> String {
    text.unwrap_or_else(|| "-".into())
}

/// A mean in thousandths of a degree.
fn mean(millicelsius: Option<f64>) -> String {
    or_dash(millicelsius.map(|number| celsius(number.round() as i32)))
}

pub(super) fn runs(look: &TextLook, runs: &[RunRow], all: u64) -> Vec<String> {
    if runs.is_empty() {
        return vec![format!("no such run among {}", count(usize::try_from(all).unwrap_or(usize::MAX), "run"))];
    }
    let rows = runs.iter().map(|run| {
        let of = run.met + run.not_met + run.cannot_tell;
        vec![
            run.id.to_string(),
            run.started_at.clone(),
            or_dash(run.night.clone()),
            format!("{} ({})", run.series.rig, run.series.kind),
            run.series.scenario.clone(),
            run.outcome.word().into(),
            format!("{} of {of}", run.met),
        ]
    });
    let heading = vec!["run", "began", "night", "rig", "scenario", "outcome", "met"];
    let mut lines = table(look, Grid { heading, right: &["run", "met"], rows: rows.collect() });
    lines.push(format!("{} of {all}, the newest first", count(runs.len(), "run")));
    lines
}

pub(super) fn run(look: &TextLook, detail: &RunDetail) -> Vec<String> {
    let RunDetail { run, steps, verdicts, sensors, figures } = detail;
    let mut lines = vec![
        look.wrap("run       ", &format!("{}, began {}", run.id, run.started_at)),
        look.wrap("rig       ", &format!("{} ({})", run.series.rig, run.series.kind)),
        look.wrap("scenario  ", &run.series.scenario),
        look.wrap("made by   ", &made_by(run)),
        look.wrap("outcome   ", &outcome(run)),
    ];
    lines.extend(run.folder.as_ref().map(|folder| look.wrap("results   ", folder)));
    let not_passed = steps.iter().filter(|step| step.outcome != StepOutcome::Passed);
    let rows: Vec<Vec<String>> = not_passed
        .map(|step| {
            let of = step.met + step.not_met + step.cannot_tell;
            let reason = or_dash(step.reason.clone());
            vec![
                step.number.to_string(),
                step.label.clone(),
                step.outcome.word().into(),
                format!("{} of {of}", step.met),
                reason,
            ]
        })
        .collect();
    section(&mut lines, &format!("steps that did not pass: {} of {}", rows.len(), steps.len()));
    if !rows.is_empty() {
        let heading = vec!["step", "what", "outcome", "met", "why"];
        lines.extend(table(look, Grid { heading, right: &["step", "met"], rows }));
    }
    if !verdicts.is_empty() {
        section(&mut lines, "expectations not met");
        lines.extend(verdicts.iter().map(|verdict| {
            let whose = verdict.rom.as_ref().map_or(String::new(), |rom| format!("{rom}: "));
            let text = format!("{whose}expected {} ({}), got {}", verdict.expected, verdict.source, verdict.got);
            look.wrap(&format!("  step {}  ", verdict.place), &text)
        }));
    }
    section(&mut lines, "sensors");
    let rows = sensors.iter().map(|row| {
        let of = |sixteenths: Option<i16>| or_dash(sixteenths.map(|number| celsius_of_sixteenths(number.into())));
        vec![
            or_dash(row.label.clone()),
            row.rom.clone(),
            row.readings.to_string(),
            row.failed.to_string(),
            row.doubted.to_string(),
            mean(row.mean_millicelsius),
            of(row.least_sixteenths),
            of(row.most_sixteenths),
        ]
    });
    let heading = vec!["sensor", "ROM code", "readings", "failed", "doubted", "mean", "lowest", "highest"];
    let right = ["readings", "failed", "doubted", "mean", "lowest", "highest"];
    lines.extend(table(look, Grid { heading, right: &right, rows: rows.collect() }));
    section(&mut lines, "figures");
    let rows =
        figures.iter().map(|figure| vec![figure.kind.words().to_owned(), figure.subject.to_string(), figure.text()]);
    lines.extend(table(look, Grid { heading: vec!["figure", "of", "value"], right: &["value"], rows: rows.collect() }));
    lines
}

fn section(lines: &mut Vec<String>, title: &str) {
    lines.push(String::new());
    lines.push(title.to_owned());
}

fn made_by(run: &RunRow) -> String {
    let mut parts = vec![run.tool.clone(), format!("driver {}", run.driver)];
    if !run.chip.is_empty() {
        parts.push(format!("firmware {} on {}", run.firmware, run.chip));
    }
    parts.push(format!("seed {}", run.seed));
    parts.join(", ")
}

fn outcome(run: &RunRow) -> String {
    let of = run.met + run.not_met + run.cannot_tell;
    let time = rig_time(run.ended_ns.unsigned_abs());
    let first = format!("{}: {} of {of} expectations met; rig time {time}", run.outcome.word(), run.met);
    run.breakage.as_ref().map_or(first.clone(), |breakage| format!("{first}; {breakage}"))
}

pub(super) fn comparison(look: &TextLook, comparison: &RunComparison) -> Vec<String> {
    let RunComparison { earlier, later, steps, same_steps, figures, sensors } = comparison;
    let mut lines = Vec::new();
    for (word, run) in [("earlier   ", earlier), ("later     ", later)] {
        let text = format!("run {}, {}, {}: {}", run.id, run.started_at, run.series, outcome(run));
        lines.push(look.wrap(word, &text));
    }
    if earlier.series != later.series {
        lines.push("note: the two runs differ in scenario or rig".into());
    }
    for (what, one, two) in [
        ("driver", &earlier.driver, &later.driver),
        ("firmware", &earlier.firmware, &later.firmware),
        ("tool", &earlier.tool, &later.tool),
    ] {
        if one != two {
            lines.push(format!("{what} changed from {one} to {two}"));
        }
    }
    section(&mut lines, &format!("steps: {same_steps} the same, {} not", steps.len()));
    let word = |outcome: Option<StepOutcome>| outcome.map_or("-", StepOutcome::word).to_owned();
    let rows = steps.iter().map(|step| vec![step.label.clone(), word(step.earlier), word(step.later)]);
    let heading = vec!["step", "earlier", "later"];
    lines.extend(table(look, Grid { heading, right: &[], rows: rows.collect() }));
    section(&mut lines, "sensors");
    let failed = |count: Option<u32>| or_dash(count.map(|count| count.to_string()));
    let rows = sensors.iter().map(|sensor| {
        vec![
            or_dash(sensor.label.clone()),
            sensor.rom.clone(),
            mean(sensor.earlier_millicelsius),
            mean(sensor.later_millicelsius),
            failed(sensor.earlier_failed),
            failed(sensor.later_failed),
        ]
    });
    let heading = vec!["sensor", "ROM code", "mean earlier", "later", "failed earlier", "failed later"];
    let right = ["mean earlier", "later", "failed earlier", "failed later"];
    lines.extend(table(look, Grid { heading, right: &right, rows: rows.collect() }));
    section(&mut lines, "figures");
    let rows = figures.iter().map(|pair| {
        let change = or_dash(pair.change_percent.map(|percent| format!("{percent:+.1} %")));
        vec![
            pair.figure.to_owned(),
            pair.subject.clone(),
            or_dash(pair.earlier.clone()),
            or_dash(pair.later.clone()),
            change,
        ]
    });
    let heading = vec!["figure", "of", "earlier", "later", "change"];
    lines.extend(table(look, Grid { heading, right: &["earlier", "later", "change"], rows: rows.collect() }));
    lines
}

pub(super) fn sensor(look: &TextLook, sensor: &KnownSensor, days: &[SensorDay]) -> Vec<String> {
    let name = sensor.label.as_ref().map_or_else(|| sensor.rom.clone(), |label| format!("{label} ({})", sensor.rom));
    let mut lines = vec![name];
    let rows = days.iter().map(|day| {
        let row = &day.sensor;
        let of = |sixteenths: Option<i16>| or_dash(sixteenths.map(|number| celsius_of_sixteenths(number.into())));
        vec![
            day.day.clone(),
            day.runs.to_string(),
            row.readings.to_string(),
            row.failed.to_string(),
            mean(row.mean_millicelsius),
            of(row.least_sixteenths),
            of(row.most_sixteenths),
            mean(day.from_neighbours_millicelsius),
            or_dash(day.conversion_us.map(|us| format!("{:.1} ms", us / 1000.0))),
        ]
    });
    let heading =
        vec!["day", "runs", "readings", "failed", "mean", "lowest", "highest", "from neighbours", "conversion"];
    let right = ["runs", "readings", "failed", "mean", "lowest", "highest", "from neighbours", "conversion"];
    lines.extend(table(look, Grid { heading, right: &right, rows: rows.collect() }));
    lines.push(count(days.len(), "day"));
    lines
}

pub(super) fn changes(look: &TextLook, findings: &[FindingRow]) -> Vec<String> {
    if findings.is_empty() {
        return vec!["nothing has changed".into()];
    }
    let state = |state| match state {
        FindingState::Open => "stands",
        FindingState::Over => "over",
        FindingState::Accepted => "accepted",
    };
    let mut lines = Vec::new();
    for finding in findings {
        lines.push(look.wrap(&format!("{:>4}  ", finding.id), &finding.text));
        let runs = if finding.first_run == finding.last_run {
            format!("run {}", finding.first_run)
        } else {
            format!("runs {} to {}", finding.first_run, finding.last_run)
        };
        let text = format!("{}, since {}, {runs}; {}", state(finding.state), finding.since, finding.series);
        lines.push(look.wrap("      ", &text));
    }
    lines.push("accept an intended change with hil-runner history accept CHANGE".into());
    lines
}
