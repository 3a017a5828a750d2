//! The times, each in a row with its limits, its smallest margin and how its lengths are distributed.

use crate::look::{Characters, Ink};
use crate::{Grid, MARGIN, TextLook, nothing, table};
use slotwise_limits::Side;
use slotwise_terms::units::{exact_time, moment};
use slotwise_waveform::WaveformReport;
use slotwise_waveform::decode::Speed;
use slotwise_waveform::timing::signed;
use slotwise_waveform::timing::{Bar, LineDriver, LineTimeReport};

/// A time has room in one line from this width on.
const WIDE: usize = 132;

pub(super) fn lines(look: &TextLook, report: &WaveformReport) -> Vec<String> {
    if report.times.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![String::new()];
    lines.extend(table(look, grid(look, report.times.iter().map(|time| row(look, time)).collect())));
    let too_close: u64 = report.times.iter().map(|time| time.too_close.sum()).sum();
    if too_close > 0 {
        let text = format!(
            "{too_close} times within one step of a limit: the capture is too coarse to tell on which side (the table says \
             \"close\")"
        );
        lines.push(Ink::Faint.on(look.wrap(MARGIN, &text)));
    }
    lines
}

fn grid(look: &TextLook, rows: Vec<Vec<String>>) -> Grid<'static> {
    if look.width.is_none_or(|width| width >= WIDE) {
        let heading =
            vec!["time", "of what", "whose", "limits", "count", "from", "to", "spread", "margin", "at", "verdict"];
        return Grid { heading, right: &["count", "from", "to", "margin", "at"], rows };
    }
    let stacked = |row: Vec<String>| match row.as_slice() {
        [time, what, whose, limits, count, from, to, spread, margin, at, verdict] => vec![
            time.clone(),
            what.clone(),
            format!("{whose}\n{limits}"),
            format!("{count}\n{spread}"),
            format!("{from}\n{to}"),
            format!("{margin}\n{at}"),
            verdict.clone(),
        ],
        _ => row,
    };
    Grid {
        heading: vec!["time", "of what", "whose\nlimits", "count\nspread", "from\nto", "margin\nat", "verdict"],
        right: &["from\nto", "margin\nat"],
        rows: rows.into_iter().map(stacked).collect(),
    }
}

/// The columns of a time, as text.
pub(crate) struct Texts {
    pub(crate) symbol: String,
    pub(crate) whose: &'static str,
    pub(crate) from: String,
    pub(crate) to: String,
    pub(crate) margin: String,
    pub(crate) at: String,
    pub(crate) verdict: String,
}

/// The columns of a time.
pub(crate) fn texts(of: &LineTimeReport) -> Texts {
    let (margin, at) = of
        .closest
        .map_or_else(|| (nothing(), nothing()), |closest| (exact_time(closest.margin_ns), moment(closest.at_ns)));
    Texts {
        symbol: match of.speed {
            Speed::Standard => of.time.symbol().to_owned(),
            Speed::Overdrive => format!("{} OD", of.time.symbol()),
        },
        whose: whose(of.driver),
        from: exact_time(signed(of.least_ns)),
        to: exact_time(signed(of.most_ns)),
        margin,
        at,
        verdict: verdict(of),
    }
}

fn row(look: &TextLook, of: &LineTimeReport) -> Vec<String> {
    let Texts { symbol, whose, from, to, margin, at, verdict } = texts(of);
    let limits: Vec<String> = [(&of.window.least, Side::Least), (&of.window.most, Side::Most)]
        .into_iter()
        .filter_map(|(limit, side)| Some(limit.as_ref()?.asked(side)))
        .collect();
    let (what, limits, count) = (of.time.what().into(), limits.join(", "), of.count.to_string());
    vec![
        symbol,
        what,
        whose.into(),
        limits,
        count,
        from,
        to,
        spread(look.characters, &of.histogram),
        margin,
        at,
        verdict,
    ]
}

/// Whose a time is.
const fn whose(driver: LineDriver) -> &'static str {
    match driver {
        LineDriver::Master => "master",
        LineDriver::Sensor => "sensor",
    }
}

fn verdict(of: &LineTimeReport) -> String {
    match (of.broken.sum(), of.too_close.sum()) {
        (0, 0) => "kept".into(),
        (0, number) => format!("{number} close"),
        (number, _) => format!("{number} broken"),
    }
}

/// A histogram in one word: a character for each sixteenth of the way from the shortest to the longest, the higher the more.
fn spread(characters: Characters, histogram: &[Bar]) -> String {
    let (Some(first), Some(last)) = (histogram.first(), histogram.last()) else { return nothing() };
    if histogram.len() == 1 {
        return nothing();
    }
    let levels: &[char] = match characters {
        Characters::Ascii => &['.', '-', '=', '#'],
        Characters::Unicode => {
            &['\u{2581}', '\u{2582}', '\u{2583}', '\u{2584}', '\u{2585}', '\u{2586}', '\u{2587}', '\u{2588}']
        }
    };
    let width = first.to_ns - first.from_ns;
    let bars = (last.to_ns - first.from_ns) / width;
    let most = histogram.iter().map(|bar| bar.count).max().unwrap_or(1);
    let mut counts = vec![0; usize::try_from(bars).unwrap_or(0)];
    for bar in histogram {
        if let Some(count) =
            usize::try_from((bar.from_ns - first.from_ns) / width).ok().and_then(|place| counts.get_mut(place))
        {
            *count = bar.count;
        }
    }
    counts
        .into_iter()
        .map(|count| match count {
            0 => ' ',
            // What occurs once beside a thousand others is still seen.
            _ => levels[usize::try_from((count - 1) * levels.len() as u64 / most).unwrap_or(0).min(levels.len() - 1)],
        })
        .collect::<String>()
        .replace(' ', if characters == Characters::Ascii { "_" } else { " " })
}
