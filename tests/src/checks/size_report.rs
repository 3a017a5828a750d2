//! The driver's whole read path on the smallest chip against its budget, measured on linked images.
//!
//! Images that must not pass are built along with it and put through the same analysis, so that an analyser that has gone
//! blind is noticed in the same run.

use super::bare_metal::{SMALLEST, compiler_for, folder_of_builds};
use crate::check::{Context, Report};
use crate::figures as page;
use crate::firmware::{Manifest, WORKSPACE, rustc_version};
use crate::size::{Figures, MeasureError, measure};
use std::fs;
use std::path::PathBuf;

/// Bytes of flash that the read path may take.
const FLASH: u64 = 4096;
/// Bytes of flash that calibration may add to a program that uses it.
const CALIBRATION: u64 = 2048;
/// Bytes of statics.
const STATICS: u64 = 0;
/// Bytes of stack below the program's own frame, which holds the line and what was measured.
const STACK: u64 = 256;

/// Bytes of flash that the one error and its kind may take on top of that, in a program that uses them. Half of it is the compiler's
/// routine that copies memory, which the bare read path does without, and few other programs.
const KIND_FLASH: u64 = 1280;
/// Bytes of stack, the program's own frame included.
const KIND_STACK: u64 = 64;

/// The function in which every image begins.
const ENTRY: &str = "entry";
/// The folder of the package with the images.
const PACKAGE: &str = "tests/size-report";

/// Builds the images and measures them.
#[must_use]
pub fn size(context: &Context) -> Report {
    let mut report = Report::default();
    let Some(compiler) = compiler_for(SMALLEST, context, &mut report) else { return report };
    let target = folder_of_builds(context);
    let command = compiler
        .cargo("build", SMALLEST, &context.root)
        .argument("--release")
        .variable("CARGO_TARGET_DIR", &target)
        .within(&context.root.join(PACKAGE));
    if report.expect_success("images", &command).is_none() {
        return report;
    }
    let images = PathBuf::from(target).join(SMALLEST).join("release");
    let figures = |name: &str| -> Result<Figures, String> {
        let read = |name: &str| fs::read(images.join(name)).map_err(|error| format!("image {name}: {error}"));
        let (image, empty) = (read(name)?, read("empty")?);
        measure(&image, &empty, ENTRY).map_err(|error| format!("image {name}: {}", with_cause(&error)))
    };
    match figures("read-path") {
        Ok(read_path) => {
            judge(&read_path, &mut report);
            match figures("error-kind") {
                Ok(with_kind) => judge_kind(&read_path, &with_kind, &mut report),
                Err(why) => report.fail(why),
            }
        }
        Err(why) => report.fail(why),
    }
    match (figures("calibrated"), figures("bare-line")) {
        (Ok(with), Ok(without)) => judge_calibration(&with, &without, &mut report),
        (Err(why), _) | (_, Err(why)) => report.fail(why),
    }
    let packed_with = Manifest::read(&context.root.join(WORKSPACE).join("images")).map(|manifest| manifest.rustc);
    let built_with = rustc_version(&compiler, &context.root);
    if packed_with.is_ok_and(|packed_with| packed_with == built_with) {
        let all = ["read-path", "error-kind", "calibrated", "bare-line"].map(figures);
        if let [Ok(read_path), Ok(kind), Ok(calibrated), Ok(bare)] = &all {
            hold(context, [read_path, kind, calibrated, bare], &mut report);
        }
    } else {
        report.note(format!("the page of figures is not compared: it is for another compiler than {built_with}"));
    }
    report.failures.extend(blind_spots(figures).into_iter().map(Into::into));
    report
}

/// Holds the rows of the page of figures.
fn hold(context: &Context, [read_path, kind, calibrated, bare]: [&Figures; 4], report: &mut Report) {
    let added = |with: &Figures, without: &Figures| with.flash.saturating_sub(without.flash);
    for (row, measured, budget) in [
        ("driver's read path on thumbv6m", read_path.flash, Some(FLASH)),
        ("statics", read_path.statics, Some(STATICS)),
        ("on top of that in a program that uses the one error", added(kind, read_path), Some(KIND_FLASH)),
        ("worst-case stack below the program's own frame", read_path.stack.below_first().into(), Some(STACK)),
        ("the same with that frame", read_path.stack.bytes.into(), None),
        ("what calibration adds", added(calibrated, bare), Some(CALIBRATION)),
    ] {
        let bytes = |bytes: u64| format!("{bytes} B");
        let cells: Vec<String> = [Some(measured), budget].into_iter().flatten().map(bytes).collect();
        page::hold(&context.root, row, &cells, report);
    }
}

/// Puts the figures against the budget.
fn judge(figures: &Figures, report: &mut Report) {
    let stack = u64::from(figures.stack.below_first());
    for (name, measured, budget) in
        [("flash", figures.flash, FLASH), ("statics", figures.statics, STATICS), ("stack", stack, STACK)]
    {
        let share = if budget == 0 { String::new() } else { format!(" ({})", ratio(measured, budget)) };
        let figure = format!("{name} {measured} of {budget} B{share}");
        if measured > budget {
            report.fail(format!("over the budget: {figure}"));
        }
        report.note(figure);
    }
    report.note(format!("{} B of stack with the program's own frame", figures.stack.bytes));
    if stack > STACK {
        let chain = figures.stack.chain.iter().map(|(name, bytes)| format!("{name} {bytes}"));
        report.fail(format!("the deepest stack: {}", chain.collect::<Vec<_>>().join(" -> ")));
    }
    if figures.panics.is_empty() {
        report.note("no panic linked");
    } else {
        report.fail(format!("the read path can panic: {}", figures.panics.join(", ")));
    }
}

/// Puts what the one error and its kind cost on top of the read path against their own budget. That a program without them does not pay
/// for them is in the figure of the read path.
fn judge_kind(read_path: &Figures, with_kind: &Figures, report: &mut Report) {
    let flash = with_kind.flash.saturating_sub(read_path.flash);
    let stack = u64::from(with_kind.stack.bytes).saturating_sub(u64::from(read_path.stack.bytes));
    for (name, measured, budget) in [("flash", flash, KIND_FLASH), ("stack", stack, KIND_STACK)] {
        let figure = format!("{name} of the one error with its kind {measured} of {budget} B");
        if measured > budget {
            report.fail(format!("over the budget: {figure}"));
        }
        report.note(figure);
    }
    if with_kind.flash <= read_path.flash {
        report.fail("the kind of an error costs no flash: it is measured where it is not used".to_owned());
    }
    if !with_kind.panics.is_empty() {
        report.fail(format!("the kind of an error can panic: {}", with_kind.panics.join(", ")));
    }
}

/// Puts what calibration adds against its budget.
fn judge_calibration(with: &Figures, without: &Figures, report: &mut Report) {
    let added = with.flash.saturating_sub(without.flash);
    let figure = format!("calibration {added} of {CALIBRATION} B ({})", ratio(added, CALIBRATION));
    if added == 0 {
        report.fail("calibration adds nothing: the two images are the same".to_owned());
    } else if added > CALIBRATION {
        report.fail(format!("over the budget: {figure}"));
    }
    if !with.panics.is_empty() {
        report.fail(format!("calibration can panic: {}", with.panics.join(", ")));
    }
    report.note(figure);
}

/// The ratio to the budget with two places, rounded up: what is over never looks as if it were met.
fn ratio(measured: u64, budget: u64) -> String {
    let hundredths = (measured * 100).div_ceil(budget);
    format!("{}.{:02} of the budget", hundredths / 100, hundredths % 100)
}

/// What the analyser fails to see in the images that are made to be refused.
fn blind_spots(figures: impl Fn(&str) -> Result<Figures, String>) -> Vec<String> {
    let mut blind = Vec::new();
    for (image, said) in [("recursion", "recursion: "), ("indirect", "indirect call in ")] {
        match figures(image) {
            Err(why) if why.contains(said) => {}
            Err(why) => blind.push(why),
            Ok(_) => blind.push(format!("image {image} has a fault that the analysis does not see")),
        }
    }
    match figures("wasteful") {
        Err(why) => blind.push(why),
        Ok(figures) => {
            let mut verdict = Report::default();
            judge(&figures, &mut verdict);
            for said in ["flash", "statics", "stack", "panic"] {
                if !verdict.failures.iter().any(|failure| failure.what.contains(said)) {
                    blind.push(format!("image wasteful wastes {said}, and the analysis does not see it"));
                }
            }
        }
    }
    blind
}

fn with_cause(error: &MeasureError) -> String {
    match std::error::Error::source(error) {
        Some(cause) => format!("{error}: {cause}"),
        None => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::size::Deepest;

    fn figures(flash: u64, statics: u64, stack: u32, panics: &[&str]) -> Figures {
        let chain = vec![("entry".into(), 100), ("driver".into(), stack)];
        let stack = Deepest { bytes: 100 + stack, chain };
        Figures { flash, statics, stack, panics: panics.iter().map(|name| (*name).to_owned()).collect() }
    }

    fn failures(figures: &Figures) -> Vec<String> {
        let mut report = Report::default();
        judge(figures, &mut report);
        report.failures.into_iter().map(|failure| failure.what).collect()
    }

    #[test]
    fn figures_at_the_budget_pass() {
        assert_eq!(failures(&figures(4096, 0, 256, &[])), Vec::<String>::new());
    }

    #[test]
    fn each_figure_over_the_budget_fails() {
        assert_eq!(failures(&figures(4097, 0, 0, &[])), ["over the budget: flash 4097 of 4096 B (1.01 of the budget)"]);
        assert_eq!(failures(&figures(0, 4, 0, &[])), ["over the budget: statics 4 of 0 B"]);
        assert_eq!(
            failures(&figures(0, 0, 260, &[])),
            ["over the budget: stack 260 of 256 B (1.02 of the budget)", "the deepest stack: entry 100 -> driver 260"]
        );
        assert_eq!(failures(&figures(0, 0, 0, &["panicked"])), ["the read path can panic: panicked"]);
    }

    #[test]
    fn the_kind_of_an_error_has_a_budget_of_its_own() {
        let failures = |flash, stack, panics: &[&str]| {
            let mut report = Report::default();
            judge_kind(&figures(4000, 0, 200, &[]), &figures(flash, 0, stack, panics), &mut report);
            report.failures.into_iter().map(|failure| failure.what).collect::<Vec<_>>()
        };
        assert_eq!(failures(5280, 264, &[]), Vec::<String>::new());
        assert_eq!(failures(5281, 0, &[]), ["over the budget: flash of the one error with its kind 1281 of 1280 B"]);
        assert_eq!(failures(4100, 265, &[]), ["over the budget: stack of the one error with its kind 65 of 64 B"]);
        assert_eq!(
            failures(4000, 0, &[]),
            ["the kind of an error costs no flash: it is measured where it is not used"]
        );
        assert_eq!(failures(4100, 0, &["panicked"]), ["the kind of an error can panic: panicked"]);
    }

    #[test]
    fn calibration_over_its_budget_fails() {
        let fails = |with: Figures| {
            let mut report = Report::default();
            judge_calibration(&with, &figures(1_000, 0, 0, &[]), &mut report);
            report.failures.len()
        };
        assert_eq!([fails(figures(3_048, 0, 0, &[])), fails(figures(3_049, 0, 0, &[]))], [0, 1]);
        assert_eq!(fails(figures(1_000, 0, 0, &[])), 1, "nothing was built");
        assert_eq!(fails(figures(1_500, 0, 0, &["panicked"])), 1);
    }

    #[test]
    fn an_analysis_that_sees_nothing_is_noticed() {
        let blind = blind_spots(|_| Ok(figures(1, 0, 1, &[])));
        assert_eq!(blind.len(), 6, "{blind:?}");
        let sees = |image: &str| match image {
            "recursion" => Err("image recursion: recursion: a -> a".to_owned()),
            "indirect" => Err("image indirect: indirect call in a at 0x0".to_owned()),
            _ => Ok(figures(5000, 4, 300, &["panicked"])),
        };
        assert_eq!(blind_spots(sees), Vec::<String>::new());
    }
}
