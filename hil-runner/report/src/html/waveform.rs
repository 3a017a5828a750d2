//! The report of a capture for people: what was found, the line drawn where it was found, the times and the sensors.

use std::fmt::Write;

use askama::Template;

use super::HtmlError;
use super::page::{Table, Tone};
use crate::waveform::{
    activity_text, capture_text, finding_text, sensor_rows, time_texts, unjudged_text, verdict_text,
};
use slotwise_limits::Side;
use slotwise_terms::units::{exact_time, moment};
use slotwise_waveform::timing::{LineTimeReport, signed};
use slotwise_waveform::{Excerpt, Finding, Outcome, WaveformReport, Weight};

/// What the page shows.
#[derive(Template)]
#[template(path = "waveform.html")]
struct Page {
    title: String,
    verdict: String,
    tone: Tone,
    facts: Vec<String>,
    findings: Vec<ShownFinding>,
    more: u64,
    drawings: Vec<Drawing>,
    not_drawn: Option<&'static str>,
    times: Vec<Time>,
    sensors: Table,
    made_by: String,
}

struct ShownFinding {
    word: &'static str,
    tone: Tone,
    text: String,
    drawn: Option<String>,
}

/// The line around a moment.
struct Drawing {
    id: String,
    heading: String,
    description: String,
    from_ns: u64,
    to_ns: u64,
    at_ns: u64,
    starts_high: bool,
    /// Moments in nanoseconds, with blanks between them.
    changes: String,
    /// The whole of it, for those who have no script.
    path: String,
    /// When each low pulse fell, how long it was, and how long the line was high after it.
    pulses: Table,
}

struct Time {
    symbol: String,
    what: &'static str,
    whose: &'static str,
    /// Each with its source.
    limits: Vec<(String, String)>,
    count: u64,
    from: String,
    to: String,
    spread: String,
    bars_width: u64,
    /// Place, top, height, and in words.
    bars: Vec<(u64, u64, u64, String)>,
    margin: String,
    tone: Tone,
    verdict: String,
}

/// Moments that are drawn.
pub(crate) const DRAWN: usize = 24;
/// Width of a drawing, and where high and low are in it.
const WIDTH: f64 = 900.0;
const HIGH: u32 = 34;
const LOW: u32 = 104;

/// The page of a capture. `excerpts`: the line around the findings, or none if it could not be read a second time.
///
/// # Errors
/// [`HtmlError`].
pub fn waveform_html(file: &str, report: &WaveformReport, excerpts: Option<&[Excerpt]>) -> Result<String, HtmlError> {
    let drawings: Vec<Drawing> = excerpts
        .unwrap_or_default()
        .iter()
        .enumerate()
        .map(|(number, excerpt)| drawing(number, excerpt, &report.findings))
        .collect();
    let findings = report.findings.iter().map(|finding| {
        let drawn = drawings.iter().find(|drawing| drawing.at_ns == finding.at_ns);
        let (word, tone) = match finding.weight {
            Weight::Fault => ("fault", Tone::Bad),
            Weight::Doubt => ("doubt", Tone::Odd),
        };
        ShownFinding { word, tone, text: finding_text(finding), drawn: drawn.map(|drawing| drawing.id.clone()) }
    });
    let (sensor_heading, sensors) = sensor_rows(&report.sensors);
    let page = Page {
        title: format!("Waveform {file}"),
        verdict: verdict_text(report),
        tone: match report.outcome {
            Outcome::Sound => Tone::Good,
            Outcome::Faulty => Tone::Bad,
            Outcome::SoundWithDoubts | Outcome::Incomplete | Outcome::NothingSeen => Tone::Odd,
        },
        facts: [capture_text(file, report), activity_text(report)]
            .into_iter()
            .chain(report.unjudged.iter().map(|part| format!("Not judged: {}", unjudged_text(part))))
            .collect(),
        findings: findings.collect(),
        more: report.findings_not_kept,
        not_drawn: excerpts
            .is_none()
            .then_some("The line is not drawn: what it was read from cannot be read a second time."),
        drawings,
        times: report.times.iter().map(time).collect(),
        sensors: Table {
            caption: "Sensors".into(),
            heading: sensor_heading.into_iter().map(str::to_owned).collect(),
            rows: sensors,
        },
        made_by: format!("Slotwise {}", env!("CARGO_PKG_VERSION")),
    };
    Ok(page.render()?)
}

/// The moments of a report that are worth a drawing, the weightiest first.
#[must_use]
pub fn drawn_moments(report: &WaveformReport) -> Vec<u64> {
    let mut moments: Vec<u64> = Vec::new();
    for finding in &report.findings {
        if moments.len() < DRAWN && !moments.contains(&finding.at_ns) {
            moments.push(finding.at_ns);
        }
    }
    moments
}

fn drawing(number: usize, excerpt: &Excerpt, findings: &[Finding]) -> Drawing {
    let about: Vec<String> =
        findings.iter().filter(|finding| finding.at_ns == excerpt.at_ns).map(finding_text).collect();
    let span = (excerpt.to_ns - excerpt.from_ns).max(1) as f64;
    let x = |ns: u64| (ns.saturating_sub(excerpt.from_ns)) as f64 / span * WIDTH;
    let mut is_high = excerpt.starts_high;
    let level = |is_high: bool| if is_high { HIGH } else { LOW };
    let mut path = format!("M0 {}", level(is_high));
    for change in &excerpt.changes_ns {
        is_high = !is_high;
        let _ = write!(path, "H{:.2}V{}", x(*change), level(is_high));
    }
    let _ = write!(path, "H{WIDTH:.0}");
    let pulses = pulses(excerpt);
    Drawing {
        id: format!("wave-{}", number + 1),
        heading: about.join("; "),
        description: format!(
            "The line from {} to {}, {} low pulses; the table below has them all",
            moment(excerpt.from_ns),
            moment(excerpt.to_ns),
            pulses.rows.len()
        ),
        from_ns: excerpt.from_ns,
        to_ns: excerpt.to_ns,
        at_ns: excerpt.at_ns,
        starts_high: excerpt.starts_high,
        changes: excerpt.changes_ns.iter().map(u64::to_string).collect::<Vec<_>>().join(" "),
        path,
        pulses,
    }
}

fn pulses(excerpt: &Excerpt) -> Table {
    let edges = &excerpt.changes_ns[usize::from(!excerpt.starts_high).min(excerpt.changes_ns.len())..];
    let mut rows = Vec::new();
    for (place, pair) in edges.chunks(2).enumerate() {
        let [fell, rose] = pair else { break };
        let high = edges.get(2 * place + 2).map_or_else(|| "-".to_owned(), |next| exact_time(signed(next - rose)));
        rows.push(vec![moment(*fell), exact_time(signed(rose - fell)), high]);
    }
    let heading = ["Falls at", "Low for", "Then high for"].map(str::to_owned).into();
    Table { caption: "Low pulses".into(), heading, rows }
}

fn time(of: &LineTimeReport) -> Time {
    let texts = time_texts(of);
    let limits = [(&of.window.least, Side::Least), (&of.window.most, Side::Most)]
        .into_iter()
        .filter_map(|(limit, side)| limit.as_ref().map(|limit| (limit.asked(side), limit.source.clone())))
        .collect();
    let most = of.histogram.iter().map(|bar| bar.count).max().unwrap_or(1);
    let first = of.histogram.first().map_or((0, 1), |bar| (bar.from_ns, bar.to_ns - bar.from_ns));
    let place = |from_ns: u64| (from_ns - first.0) / first.1 * 6;
    let bars: Vec<_> = of
        .histogram
        .iter()
        .map(|bar| {
            // What occurs once is still to be seen.
            let height = (bar.count * 22).div_ceil(most).max(2);
            let words = format!("{} x from {} on", bar.count, exact_time(signed(bar.from_ns)));
            (place(bar.from_ns), 24 - height, height, words)
        })
        .collect();
    let spread = of.histogram.iter().map(|bar| format!("{} x from {}", bar.count, exact_time(signed(bar.from_ns))));
    Time {
        symbol: texts.symbol,
        what: of.time.what(),
        whose: texts.whose,
        limits,
        count: of.count,
        from: texts.from,
        to: texts.to,
        spread: spread.collect::<Vec<_>>().join(", "),
        bars_width: of.histogram.last().map_or(6, |bar| place(bar.from_ns) + 6),
        bars,
        margin: texts.margin,
        tone: match (of.broken.sum(), of.too_close.sum()) {
            (0, 0) => Tone::Good,
            (0, _) => Tone::Odd,
            _ => Tone::Bad,
        },
        verdict: texts.verdict,
    }
}
