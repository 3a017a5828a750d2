//! The margins, each with its formula and its source.

use super::{Ink, column, grid, heading, note};
use crate::{TextLook, nothing};
use slotwise_study::line::{LineStudy, Margin, MarginBasis};
use slotwise_terms::units::three;

pub(super) fn tell(look: &TextLook, study: &LineStudy) -> Vec<String> {
    let mut lines: Vec<String> = heading(look, "margins: how far from each limit, negative beyond it").into();
    let rows = study.margins.iter().map(|margin| {
        vec![
            column::limit(look, margin.parameter.words()),
            column::where_wide(look, margin.parameter.against()),
            margin.margin.map_or_else(|| "never".into(), |far| format!("{} {}", three(far), margin.unit.symbol())),
            column::where_not_narrow(look, basis(margin.basis).into()),
            if margin.is_kept() { "kept".into() } else { "BROKEN".into() },
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    if rows.is_empty() {
        return vec![nothing()];
    }
    lines.extend(grid(look, &["limit", "held against", "margin", "how", "verdict"], 2, rows));
    lines.extend(study.margins.iter().map(|margin| formula(look, margin)));
    lines
}

const fn basis(basis: MarginBasis) -> &'static str {
    match basis {
        MarginBasis::Measured => "measured",
        MarginBasis::Computed => "computed",
    }
}

fn formula(look: &TextLook, margin: &Margin) -> String {
    let text = note(look, &format!("{}: {} ({})", margin.parameter.words(), margin.formula, margin.source));
    if margin.is_kept() { text } else { Ink::Bad.on(text) }
}
