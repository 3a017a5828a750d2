//! What needs no test of chance: sensors that are gone, sensors that are new, and firmware that takes more of the chip.

use super::about::About;
use super::detect::Against;
use super::past::{Presence, searched};
use slotwise_past::{Figure, FigureKind, FigureSubject, Finding, Matter};

/// Fewest runs of the past that make a sensor one that is always there, or never. One run may have been a mistake.
const FEWEST: usize = 2;

pub(super) fn presence(against: &Against<'_>, now: &[Figure]) -> Vec<Finding> {
    if !searched(now) {
        return Vec::new();
    }
    let is_here = |subject: &FigureSubject| {
        now.iter().any(|figure| figure.kind == FigureKind::Found && figure.subject == *subject && figure.value > 0.0)
    };
    let known = against.past.figures.iter().filter(|((kind, _), _)| *kind == FigureKind::Found);
    let gone = known.filter_map(|((_, subject), _)| {
        let stands = against.standing.contains(&About::Figure(FigureKind::Found, subject.clone()));
        let Presence { found, searched } = against.past.presence(subject);
        // It was found in nine of ten runs with a search.
        let always = found >= FEWEST && found * 10 >= searched * 9;
        (!is_here(subject) && (always || stands)).then(|| Finding {
            matter: Matter::Gone { subject: subject.clone() },
            text: format!("{} is gone: it was found in {found} runs before", against.names.of(subject)),
        })
    });
    let new = now.iter().filter(|figure| figure.kind == FigureKind::Found && figure.value > 0.0).filter_map(|figure| {
        let about = About::Figure(FigureKind::Found, figure.subject.clone());
        let is_known = against.past.figures.contains_key(&(FigureKind::Found, figure.subject.clone()));
        let searched = against.past.presence(&figure.subject).searched;
        // A standing finding is repeated, however short its past.
        let unknown = !is_known && (searched >= FEWEST || against.standing.contains(&about));
        unknown.then(|| Finding {
            matter: Matter::New { subject: figure.subject.clone() },
            text: format!(
                "{} is new: it was found in none of {searched} runs before{}",
                against.names.of(&figure.subject),
                against.past.but_for(&about)
            ),
        })
    });
    gone.chain(new).collect()
}

/// Growth over the smallest of the past that is worth a word, in thousandths. Chosen: every change of a program moves it a
/// little.
const GROWTH_PERMILLE: f64 = 10.0;

pub(super) fn grown(against: &Against<'_>, now: &[Figure]) -> Vec<Finding> {
    let sizes = now.iter().filter(|figure| matches!(figure.kind, FigureKind::Flash | FigureKind::Statics));
    let grown = sizes.filter_map(|figure| {
        let past = against.past.figures.get(&(figure.kind, FigureSubject::Whole))?;
        let smallest = past.iter().map(|past| past.value).reduce(f64::min)?;
        (figure.value - smallest > smallest * GROWTH_PERMILLE / 1000.0).then(|| Finding {
            matter: Matter::Grown { figure: figure.kind },
            text: format!(
                "{} has grown: {:.0} B, and {smallest:.0} B before ({:+.1} %)",
                figure.kind.words(),
                figure.value,
                100.0 * (figure.value / smallest - 1.0)
            ),
        })
    });
    grown.collect()
}
