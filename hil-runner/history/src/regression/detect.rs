//! All questions to one run.

use std::collections::{BTreeMap, HashSet};

use slotwise::bus::RomCode;

use super::about::About;
use super::counts::{Count, chance};
use super::past::{Observed, Past};
use super::trend::Trend;
use super::values::{Usual, matters};
use super::{steps, untested};
use slotwise_past::{Figure, FigureKind, FigureSubject, Finding, Matter, value_text};

/// Chance of a false alarm among all tests of one run together. Chosen: one in a hundred nights.
pub const BUDGET: f64 = 0.01;

/// A finding that stands is not over before its test would no longer be remarkable by the usual measure. Else one on
/// the edge would come and go from night to night.
pub(super) const STILL_REMARKABLE: f64 = 0.05;

/// Sensors with the names that people have for them.
#[derive(Clone, Debug, Default)]
pub struct Names(pub BTreeMap<RomCode, String>);

impl Names {
    /// What people call it.
    #[must_use]
    pub fn of(&self, subject: &FigureSubject) -> String {
        match subject {
            FigureSubject::Whole => String::new(),
            FigureSubject::Sensor { rom, bits } => {
                let name = self.0.get(rom).map_or_else(|| rom.to_string(), |label| format!("{label} ({rom})"));
                bits.map_or(name.clone(), |bits| format!("{name} at {bits} bits"))
            }
        }
    }
}

/// What a run is held against.
pub(super) struct Against<'a> {
    pub(super) past: &'a Past,
    pub(super) names: &'a Names,
    pub(super) standing: &'a HashSet<About>,
}

/// How many of the newest runs are held against those before. Chosen: tonight, and a week.
const NEWEST: [usize; 2] = [1, 7];

/// A finding that depends on a chance.
struct Suspicion {
    chance: f64,
    finding: Finding,
    about: About,
    /// By how much it differs, in multiples of what matters. Counts: 1.
    size: f64,
}

/// What has changed in a run.
pub(super) fn detect_with(against: &Against<'_>, now: &Observed) -> Vec<Finding> {
    let suspicions: Vec<Suspicion> = now.figures.iter().flat_map(|figure| suspicions(against, figure)).collect();
    let tests = suspicions.len() + steps::tests(against, &now.steps);
    let share = BUDGET / tests.max(1) as f64;
    let mut findings = steps::detect(against, &now.steps, share);
    findings.extend(untested::presence(against, &now.figures));
    findings.extend(untested::grown(against, &now.figures));
    let mut reported: HashSet<About> = HashSet::new();
    for suspicion in suspicions {
        let stands = against.standing.contains(&suspicion.about);
        let (limit, size) = if stands { (STILL_REMARKABLE, 0.5) } else { (share, 1.0) };
        // The first of several about one figure says it: that it has moved, before that it is on its way.
        if suspicion.chance < limit && suspicion.size >= size && reported.insert(suspicion.about) {
            findings.push(suspicion.finding);
        }
    }
    findings
}

/// The tests that a figure is put to. Those that show nothing count as well: they share the budget.
fn suspicions(against: &Against<'_>, figure: &Figure) -> Vec<Suspicion> {
    let key = (figure.kind, figure.subject.clone());
    let Some(past) = against.past.figures.get(&key) else { return Vec::new() };
    match figure.kind {
        FigureKind::Flash | FigureKind::Statics => Vec::new(),
        kind if kind.is_count() => rates(against, figure, past),
        _ => measured(against, figure, past),
    }
}

fn about(figure: &Figure) -> About {
    About::Figure(figure.kind, figure.subject.clone())
}

/// The figure's name, and whose it is.
fn title(against: &Against<'_>, figure: &Figure) -> String {
    match &figure.subject {
        FigureSubject::Whole => figure.kind.words().into(),
        subject => format!("{}: {}", against.names.of(subject), figure.kind.words()),
    }
}

/// The run alone against those before, and with it the newest of them: few errors a night add up.
fn rates(against: &Against<'_>, figure: &Figure, past: &[Figure]) -> Vec<Suspicion> {
    let counts: Vec<Count> = past.iter().chain([figure]).map(Count::of).collect();
    let rate = |newest: usize| {
        let (before, now) = counts.split_at_checked(counts.len().checked_sub(newest)?)?;
        let sum = Count::sum(now);
        let all = Count::sum(before);
        let what = if figure.kind == FigureKind::Found { " not" } else { "" };
        let which = if newest == 1 { String::new() } else { format!(" in the last {newest} runs") };
        let text = format!(
            "{}{what}: {:.0} of {:.0}{which}, and {:.0} of {:.0} in {} runs before",
            title(against, figure),
            sum.events,
            sum.tries,
            all.events,
            all.tries,
            before.len()
        );
        let matter = Matter::Rate { figure: figure.kind, subject: figure.subject.clone() };
        let finding = Finding { matter, text };
        (!before.is_empty()).then(|| Suspicion {
            chance: chance(sum, before),
            finding,
            about: about(figure),
            size: 1.0,
        })
    };
    NEWEST.into_iter().filter_map(rate).collect()
}

fn measured(against: &Against<'_>, figure: &Figure, past: &[Figure]) -> Vec<Suspicion> {
    let Some(usual) = Usual::of(past) else { return Vec::new() };
    let matters = matters(figure, usual.mean);
    let title = title(against, figure);
    let value = |value| value_text(figure.kind, value, figure.of);
    let text =
        format!("{title} has moved: {}, and {} in {} runs before", value(figure.value), value(usual.mean), usual.count);
    let matter = Matter::Moved { figure: figure.kind, subject: figure.subject.clone() };
    let moved = Suspicion {
        chance: usual.chance(figure.value),
        finding: Finding { matter, text },
        about: about(figure),
        size: (figure.value - usual.mean).abs() / matters,
    };
    let values: Vec<f64> = past.iter().map(|figure| figure.value).chain([figure.value]).collect();
    let drifts = Trend::of(&values).map(|trend| {
        let text = format!(
            "{title} is on its way: by {} over {} runs, now {}",
            change_text(figure, trend.change),
            values.len(),
            value(figure.value)
        );
        let matter = Matter::Drifts { figure: figure.kind, subject: figure.subject.clone() };
        Suspicion {
            chance: trend.chance,
            finding: Finding { matter, text },
            about: about(figure),
            size: trend.change.abs() / matters,
        }
    });
    std::iter::once(moved).chain(drifts).collect()
}

/// A change with its sign and unit.
fn change_text(figure: &Figure, change: f64) -> String {
    let (unit, scale) = figure.kind.unit();
    format!("{:+.3} {unit}", change / scale)
}
