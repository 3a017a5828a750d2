//! What was seen of one time: how often, from where to where, and how near to a limit.

use super::report::{Nearest, ParameterReport, Seen};
use crate::{Basis, Parameter, Side, Window};

/// The measurements of one time so far.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Tally {
    seen: Option<Seen>,
    violated: u64,
}

impl Tally {
    /// Takes one more measurement. Which limit it breaks, if it breaks one.
    pub(super) fn add(&mut self, window: &Window, value_ns: i64, at_ns: u64) -> Option<Side> {
        let above = window.least.as_ref().map(|least| (value_ns.saturating_sub(least.ns), least, Side::Least));
        let below = window.most.as_ref().map(|most| (most.ns.saturating_sub(value_ns), most, Side::Most));
        let nearest = above
            .into_iter()
            .chain(below)
            // An order that is kept says nothing of how near its limit is.
            .filter(|(margin_ns, bound, _)| bound.basis != Basis::Order || !bound.permits(*margin_ns))
            .min_by_key(|(margin_ns, ..)| *margin_ns);
        let so_far = self.seen.get_or_insert(Seen { count: 0, least_ns: value_ns, most_ns: value_ns, nearest: None });
        so_far.count += 1;
        so_far.least_ns = so_far.least_ns.min(value_ns);
        so_far.most_ns = so_far.most_ns.max(value_ns);
        let (margin_ns, bound, side) = nearest?;
        if so_far.nearest.is_none_or(|nearest| margin_ns < nearest.margin_ns) {
            so_far.nearest = Some(Nearest { margin_ns, value_ns, side, at_ns });
        }
        let is_broken = !bound.permits(margin_ns);
        self.violated += u64::from(is_broken);
        is_broken.then_some(side)
    }

    pub(super) fn report(self, parameter: Parameter, window: Window) -> ParameterReport {
        ParameterReport { parameter, window, seen: self.seen, violated: self.violated }
    }
}
