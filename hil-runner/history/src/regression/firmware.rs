//! Firmware that takes more of the chip.

use super::detect::Against;
use slotwise_past::{Figure, FigureKind, FigureSubject, Finding, Matter};

/// Growth over the smallest of the past that is worth a word, in thousandths. Chosen: every change of a program moves it a
/// little.
const GROWTH_PERMILLE: f64 = 10.0;

pub(super) fn detect(against: &Against<'_>, now: &[Figure]) -> Vec<Finding> {
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
