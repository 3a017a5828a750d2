//! What has changed against the past of each rig, the new first.

use super::page::{Change, Changes, Link, Run};
use slotwise_past::NightReport;

pub(super) fn changes(report: &NightReport<'_>, runs: &[Run]) -> Changes {
    let mut changes = Changes { new: Vec::new(), standing: Vec::new(), over: Vec::new() };
    for (reported, run) in report.runs.iter().zip(runs) {
        let Some(assessment) = &reported.assessment else { continue };
        let link = || Link { to: run.id.clone(), text: run.heading.clone() };
        for change in &assessment.changes {
            let list = if change.is_new { &mut changes.new } else { &mut changes.standing };
            list.push(Change { text: change.finding.text.clone(), since: change.since.clone(), run: link() });
        }
        for over in &assessment.over {
            changes.over.push(Change { text: over.text.clone(), since: over.since.clone(), run: link() });
        }
    }
    changes
}
