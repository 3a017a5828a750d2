//! Streams made by hand and by the real driver, and what the judge makes of them.

mod classes;
mod hostile;
mod limits;
mod on_the_line;

use slotwise::thermometer::Family;

use super::*;
use crate::{Basis, Limit, Limits, Parameter, Reach, Side, Window};

/// What the judge makes of a stream, for DS18B20s.
fn judged(events: impl IntoIterator<Item = (u64, Edge)>) -> EdgeReport {
    judged_for(&[Family::Ds18b20], events)
}

fn judged_for(families: &[Family], events: impl IntoIterator<Item = (u64, Edge)>) -> EdgeReport {
    let mut judge = EdgeJudge::new(Limits::for_families(families));
    for (at_ns, edge) in events {
        judge.feed(at_ns, edge);
    }
    judge.finish()
}

impl EdgeReport {
    fn of(&self, parameter: Parameter) -> &ParameterReport {
        self.parameters.iter().find(|report| report.parameter == parameter).unwrap()
    }

    fn nearest(&self, parameter: Parameter) -> Nearest {
        self.seen(parameter).nearest.unwrap()
    }

    fn seen(&self, parameter: Parameter) -> Seen {
        self.of(parameter).seen.unwrap()
    }
}
