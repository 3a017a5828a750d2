//! What was seen of a line: who is there, how it rises, how often reads fail.

use super::{Ink, column, grid, heading, note};
use crate::{TextLook, nothing, supply_word};
use slotwise_rig::reply::SpreadRecord;
use slotwise_study::line::{Estimate, LineSeen};
use slotwise_terms::units::{count, microseconds, three};

pub(super) fn tell(look: &TextLook, seen: &LineSeen) -> Vec<String> {
    let found = seen.sensors.iter().filter(|sensor| sensor.seen > 0).count();
    let text = format!(
        "{} and {} of each of {}; nothing was written to any",
        searches(seen.searches),
        count(seen.reads_each as usize, "read"),
        count(found, "sensor")
    );
    let mut lines = vec![look.wrap("measured  ", &text)];
    lines.extend(sensors(look, seen));
    lines.extend(rise(look, seen));
    lines.extend(errors(look, seen));
    lines
}

fn searches(number: u32) -> String {
    if number == 1 { "1 search".into() } else { format!("{number} searches") }
}

fn sensors(look: &TextLook, seen: &LineSeen) -> Vec<String> {
    let mut lines: Vec<String> = heading(look, "who is there").into();
    let columns = ["sensor", "ROM code", "part", "power", "found", "reads", "failed"];
    let rows = seen.sensors.iter().map(|one| {
        let name = one.sensor.label.clone().unwrap_or_else(|| "not in the inventory".into());
        let part = one.part.clone().unwrap_or_else(|| "not decoded".into());
        let power = one.power.map_or_else(nothing, |power| supply_word(Some(power)).to_owned());
        let rom = one.sensor.rom.to_string();
        let is_narrow = column::is_narrow(look);
        vec![
            column::name(look, &name),
            if is_narrow { format!("{rom}\n{part}, {power}") } else { rom },
            column::where_not_narrow(look, part),
            column::where_not_narrow(look, power),
            format!("{} of {}", one.seen, seen.searches),
            column::where_not_narrow(look, one.reads.to_string()),
            one.errors.to_string(),
        ]
    });
    lines.extend(grid(look, &columns, 4, rows.collect()));
    let failures = seen.sensors.iter().filter_map(|one| Some((&one.sensor, one.failure.as_ref()?)));
    lines.extend(failures.map(|(sensor, failure)| Ink::Bad.on(note(look, &format!("{sensor}: {failure}")))));
    lines
}

fn rise(look: &TextLook, seen: &LineSeen) -> Vec<String> {
    let times = [
        ("rise", "from the release to the master's threshold", seen.rise_ns),
        ("tPDHIGH", "from there to the first presence pulse", seen.presence_delay_ns),
        ("tPDLOW", "of all sensors together", seen.presence_width_ns),
    ];
    let mut rows: Vec<Vec<String>> = times
        .iter()
        .filter_map(|(name, how, spread)| Some((name, how, (*spread)?)))
        .map(|(name, how, SpreadRecord { least, most })| span(name, how, (least.into(), most.into())))
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let grain =
        if seen.grain_ns > 0 { format!(", each to within {}", microseconds(seen.grain_ns)) } else { String::new() };
    let resets = usize::try_from(seen.resets).unwrap_or(usize::MAX);
    let mut lines: Vec<String> = heading(look, &format!("the line, in {}{grain}", count(resets, "reset"))).into();
    rows.extend(
        seen.read_sample_ns
            .map(|seen| span("read sample", "after the edge, edge by edge", (seen.least_ns, seen.most_ns))),
    );
    if let Some(estimates) = &seen.estimates {
        rows.push(estimated("RC product", &estimates.rc_us, "us"));
        rows.extend(estimates.picofarad.as_ref().map(|picofarad| estimated("capacitance", picofarad, "pF")));
        rows.extend(estimates.cable_m.as_ref().map(|cable_m| estimated("cable, ESTIMATED", cable_m, "m")));
    }
    if column::is_narrow(look) {
        lines.extend(grid(
            look,
            &["what", "how", "from, to", "best"],
            2,
            rows.into_iter().map(narrowed(look)).collect(),
        ));
    } else {
        lines.extend(grid(look, &["what", "how", "least", "most", "best"], 2, rows));
    }
    if let Some(estimates) = &seen.estimates {
        lines.extend(remarks(estimates.cable_m.is_some()).into_iter().map(|text| note(look, text)));
    }
    lines
}

/// Such a row where there is little room: the least above the most.
fn narrowed(look: &TextLook) -> impl Fn(Vec<String>) -> Vec<String> {
    let limit = |text: &str| column::limit(look, text);
    move |row| match row.as_slice() {
        [what, how, least, most, best] => {
            vec![limit(what), limit(how), format!("{least}\n{most}"), best.clone()]
        }
        _ => row,
    }
}

/// A row of something that was seen, in nanoseconds.
fn span(name: &str, how: &str, (least_ns, most_ns): (i64, i64)) -> Vec<String> {
    let us = |ns: i64| format!("{:.2} us", ns as f64 / 1e3);
    vec![name.into(), how.into(), us(least_ns), us(most_ns), nothing()]
}

/// A row of something that was computed from it.
fn estimated(name: &str, estimate: &Estimate, unit: &str) -> Vec<String> {
    let number = |value: f64| format!("{} {unit}", three(value));
    let Estimate { best, least, most, formula } = estimate;
    vec![name.into(), formula.clone(), number(*least), number(*most), number(*best)]
}

/// What the estimates stand on.
fn remarks(has_cable: bool) -> Vec<&'static str> {
    let mut all = vec![
        "RC: t = RC ln(V / (V - Vth)), as shares of the supply. Vth is what the master's input takes for high: --threshold \
         says it; where it does not, 70 % is taken and the bounds allow for 50 % (assumed). Margins and advice are computed \
         from the best",
    ];
    if has_cable {
        all.push(
            "the cable is an estimate from its capacitance per metre, never a measured length: the lower bound takes 25 pF off \
             for each sensor (DS18B20 datasheet (7/19), AC table, maximum), the upper bound nothing; the master's pin counts as \
             cable, and the pull-up is taken as it is marked",
        );
    }
    all
}

fn errors(look: &TextLook, seen: &LineSeen) -> Option<String> {
    let rate = seen.error_rate?;
    let percent = |share: f64| three(share * 100.0);
    let text = format!(
        "{} of {} reads failed: between {} % and {} % of all reads, to {} % confidence (exact interval of Clopper and Pearson; \
         failures that come together make it too narrow)",
        rate.errors,
        rate.reads,
        percent(rate.least),
        percent(rate.most),
        percent(rate.confidence)
    );
    let line = look.wrap("errors    ", &text);
    Some(format!("\n{}", if rate.errors > 0 { Ink::Bad.on(line) } else { line }))
}
