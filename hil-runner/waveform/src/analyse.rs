//! From a capture, or from edges in memory, to a verdict.

use std::io::Read;

use super::capture::{Capture, Change, Item, Level};
use super::decode::Transaction;
use super::facts::Facts;
use super::judge::{CaptureJudge, ReadTo};
use super::report::WaveformReport;
use super::source::{ChooseError, Chosen, SourceError, WaveformSource};

/// Changes between two questions whether to go on.
const PATIENCE: u64 = 1_024;

/// Decodes and judges one signal of a capture, and hands out each transaction on the way. Memory stays the same however long it is.
pub fn analyse<R: Read>(capture: Capture<R>, chosen: Chosen, each: &mut dyn FnMut(&Transaction)) -> WaveformReport {
    analyse_while(capture, chosen, Facts::default(), each, &mut |_| true)
}

/// As [`analyse`], with what is known beside the capture. `goes_on`: called now and then with the time of the capture; if it
/// returns false, the report is on what was read so far.
pub fn analyse_while<R: Read>(
    mut capture: Capture<R>,
    chosen: Chosen,
    facts: Facts,
    each: &mut dyn FnMut(&Transaction),
    goes_on: &mut dyn FnMut(u64) -> bool,
) -> WaveformReport {
    let signal = capture.signals().get(chosen.signal).map(|signal| signal.path.clone()).unwrap_or_default();
    let mut judge = CaptureJudge::new(chosen, facts, each);
    let mut items = 0_u64;
    let mut is_stopped = false;
    while !is_stopped && let Some(item) = capture.next() {
        judge.item(item, capture.line());
        items += 1;
        is_stopped = items.is_multiple_of(PATIENCE) && !goes_on(capture.now_ns());
    }
    // A source that is stopped ends as one does that is read to its end.
    if is_stopped || !goes_on(capture.now_ns()) {
        judge.stop();
    }
    judge.finish(ReadTo {
        signal,
        now_ns: capture.now_ns(),
        end_ns: capture.end_ns(),
        is_given_up: capture.is_given_up(),
    })
}

/// The verdict on a capture that is at hand as a whole. `signal`: its name; none if it is the only one, or the one that is like a line.
///
/// # Errors
/// [`SourceError`].
pub fn judge_vcd(vcd: &[u8], signal: Option<&str>, facts: Facts) -> Result<WaveformReport, SourceError> {
    let source = WaveformSource::read(vcd)?;
    let chosen = source.choose(signal)?;
    let capture = source.capture(&chosen)?;
    Ok(analyse_while(capture, chosen, facts, &mut |_| (), &mut |_| true))
}

/// The verdict on edges that are at hand: when the line changed, and whether it is high from then on, to the nanosecond.
///
/// # Errors
/// [`ChooseError::NoLine`] if there are no edges.
pub fn judge_edges(edges: &[(u64, bool)], end_ns: u64, facts: Facts) -> Result<WaveformReport, ChooseError> {
    let changes = || {
        edges.iter().map(|(at_ns, is_high)| {
            let level = if *is_high { Level::High } else { Level::Low };
            Item::Change(Change { at_ns: *at_ns, signal: 0, level })
        })
    };
    if edges.is_empty() {
        return Err(ChooseError::NoLine);
    }
    let chosen = Chosen::learnt(changes(), 0, 1, false);
    let each = &mut |_: &Transaction| ();
    let mut judge = CaptureJudge::new(chosen, facts, each);
    changes().for_each(|item| judge.item(item, 0));
    let end_ns = edges.last().map_or(end_ns, |(at_ns, _)| end_ns.max(*at_ns));
    Ok(judge.finish(ReadTo { signal: "line".into(), now_ns: end_ns, end_ns, is_given_up: false }))
}
