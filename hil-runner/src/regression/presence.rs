//! Sensors that are gone, and sensors that are new.

use super::detect::Against;
use super::finding::{About, Finding, Matter};
use super::past::searched;
use crate::history::{Figure, FigureKind, FigureSubject};

/// Fewest runs of the past that make a sensor one that is always there, or never. One run may have been a mistake.
const FEWEST: usize = 2;

pub(super) fn detect(against: &Against<'_>, now: &[Figure]) -> Vec<Finding> {
    if !searched(now) {
        return Vec::new();
    }
    let is_here = |subject: &FigureSubject| {
        now.iter().any(|figure| figure.kind == FigureKind::Found && figure.subject == *subject && figure.value > 0.0)
    };
    let known = against.past.figures.iter().filter(|((kind, _), _)| *kind == FigureKind::Found);
    let gone = known.filter_map(|((_, subject), seen)| {
        let stands = against.standing.contains(&About::Figure(FigureKind::Found, subject.clone()));
        // It was there in each run in which anybody was looked for, but for one in ten.
        let always = seen.len() >= FEWEST && seen.len() * 10 >= against.past.searched * 9;
        (!is_here(subject) && (always || stands)).then(|| Finding {
            matter: Matter::Gone { subject: subject.clone() },
            text: format!("{} is gone: it was found in {} runs before", against.names.of(subject), seen.len()),
        })
    });
    let new = now.iter().filter(|figure| figure.kind == FigureKind::Found && figure.value > 0.0).filter_map(|figure| {
        let key = (FigureKind::Found, figure.subject.clone());
        let unknown = !against.past.figures.contains_key(&key) && against.past.searched >= FEWEST;
        unknown.then(|| Finding {
            matter: Matter::New { subject: figure.subject.clone() },
            text: format!(
                "{} is new: it was found in none of {} runs before",
                against.names.of(&figure.subject),
                against.past.searched
            ),
        })
    });
    gone.chain(new).collect()
}
