//! Times that broke their limits, as findings.

use slotwise::thermometer::Family;

use super::{Cause, Finding, Findings, Topic, Weight};
use crate::decode::Speed;
use crate::pulse::Spikes;
use crate::timing::{
    Closest, Extremes, LineDriver, LineTime, LineTimeReport, Party, Power, SEVERAL_FAST_PRESENCE_NS, signed,
};
use crate::who::Who;
use slotwise_limits::Side;
use slotwise_limits::figures::SEVERAL_PRESENCE_LOW_MOST_NS;
use slotwise_terms::units::exact_time;

impl Findings {
    /// Adds the findings on the times of a line. `zeros`: those of sensors that are beyond a limit, and whose they are. `only`: the
    /// only sensor of the line.
    pub(crate) fn report_times(
        &mut self,
        times: &[LineTimeReport],
        zeros: &[(Speed, Option<Who>, Extremes)],
        only: Option<Who>,
        party: &Party,
    ) {
        for report in times {
            if report.time == LineTime::ReadZeroLow {
                let mut whose: Vec<(Option<Who>, Extremes)> = Vec::new();
                for (_, who, extremes) in zeros.iter().filter(|(speed, ..)| *speed == report.speed) {
                    let who = who.or(only);
                    match whose.iter_mut().find(|(other, _)| *other == who) {
                        Some((_, all)) => all.merge(extremes),
                        None => whose.push((who, *extremes)),
                    }
                }
                for (who, extremes) in whose {
                    self.report_zeros(report, who, extremes);
                }
            } else {
                self.report_time(report, only, party);
            }
        }
    }

    /// Zeros of one sensor, or of one of several.
    fn report_zeros(&mut self, report: &LineTimeReport, who: Option<Who>, extremes: Extremes) {
        let (Some((least_ns, least_at_ns)), Some((most_ns, most_at_ns))) = (extremes.least, extremes.most) else {
            return;
        };
        let (Some(least), Some(most)) = (&report.window.least, &report.window.most) else { return };
        let is_long = signed(most_ns) - most.ns > least.ns - signed(least_ns);
        let (side, value_ns, at_ns, limit) =
            if is_long { (Side::Most, most_ns, most_at_ns, most) } else { (Side::Least, least_ns, least_at_ns, least) };
        let text = format!(
            "{}, {}: {} where {} is the limit ({}); {} of {} outside the limits",
            report.time.symbol(),
            report.time.what(),
            exact_time(signed(value_ns)),
            limit.asked(side),
            limit.source,
            extremes.broken,
            extremes.count
        );
        let closest = Closest { margin_ns: 0, value_ns, side, at_ns };
        let sensors = who.and_then(Who::name).into_iter().collect();
        self.push(at_worst(Weight::Fault, Cause::Sensor, closest, extremes.broken, sensors, text));
    }

    fn report_time(&mut self, report: &LineTimeReport, only: Option<Who>, party: &Party) {
        let (Some(closest), true) = (report.closest, report.broken.sum() > 0) else { return };
        let limit = match closest.side {
            Side::Least => &report.window.least,
            Side::Most => &report.window.most,
        };
        let Some(limit) = limit else { return };
        let cause = match report.driver {
            LineDriver::Master => Cause::Master,
            LineDriver::Sensor => Cause::Sensor,
        };
        let text = format!(
            "{}, {}: {} where {} is the limit ({}); {} of {} outside the limits",
            report.time.symbol(),
            report.time.what(),
            exact_time(signed(closest.value_ns)),
            limit.asked(closest.side),
            limit.source,
            report.broken.sum(),
            report.count
        );
        // A long reset does harm on parasite power alone, and whether any sensor has that is not always known.
        let is_open = report.time == LineTime::ResetLow
            && report.broken.least == 0
            && party.power == Power::Unknown
            && !party.families.contains(&Family::Ds28ea00);
        // Nor how many answer at once, where none was found to be alone.
        let most_ns = match report.speed {
            Speed::Standard => SEVERAL_PRESENCE_LOW_MOST_NS,
            Speed::Overdrive => SEVERAL_FAST_PRESENCE_NS,
        };
        let is_of_several = report.time == LineTime::PresenceLow
            && report.broken.least == 0
            && !party.is_alone
            && report.most_ns <= most_ns;
        let weight = if is_open || is_of_several { Weight::Doubt } else { Weight::Fault };
        let whose = only.filter(|_| report.driver == LineDriver::Sensor).and_then(Who::name);
        self.push(at_worst(weight, cause, closest, report.broken.sum(), whose.into_iter().collect(), text));
    }

    /// Highs that are too short for anything.
    pub fn report_spikes(&mut self, Spikes { count, first_ns, last_ns }: Spikes) {
        if count > 0 {
            let text = "the line was high for less than a quarter of a microsecond inside of a low, which was read as one: noise, \
                        or an input without hysteresis on a slow edge"
                .to_owned();
            let (topic, weight, cause) = (Topic::Stray, Weight::Doubt, Cause::Line);
            self.push(Finding { topic, weight, cause, at_ns: first_ns, last_ns, count, sensors: Vec::new(), text });
        }
    }
}

/// When a time was broken first and last is not kept, only when it was worst.
fn at_worst(weight: Weight, cause: Cause, closest: Closest, count: u64, sensors: Vec<String>, text: String) -> Finding {
    let Closest { at_ns, .. } = closest;
    Finding { topic: Topic::Timing, weight, cause, at_ns, last_ns: at_ns, count, sensors, text }
}
