//! Times that broke their limits, as findings.

use slotwise::thermometer::Family;

use super::watch::NO_SUPPLY_NS;
use super::{Cause, Finding, Findings, Topic, Weight};
use crate::judge::edges::Side;
use crate::record::units::exact_time;
use crate::waveform::decode::Speed;
use crate::waveform::pulse::Spikes;
use crate::waveform::timing::{
    Closest, Driver, LineTime, LineTimeReport, Party, Power, SEVERAL_FAST_PRESENCE_NS, SEVERAL_PRESENCE_NS, signed,
};

impl Findings {
    /// Adds what is to be said of the times of a line.
    pub fn tell_times(&mut self, times: &[LineTimeReport], party: &Party) {
        for report in times {
            self.tell_time(report, party);
        }
        self.tell_long_lows(times);
    }

    fn tell_time(&mut self, report: &LineTimeReport, party: &Party) {
        let (Some(closest), true) = (report.closest, report.broken.sum() > 0) else { return };
        let limit = match closest.side {
            Side::Least => &report.window.least,
            Side::Most => &report.window.most,
        };
        let Some(limit) = limit else { return };
        let cause = match report.driver {
            Driver::Master => Cause::Master,
            Driver::Sensor => Cause::Sensor,
        };
        let text = format!(
            "{}, {}: {} where {} is asked ({}); {} of {} outside the limits",
            report.time.symbol(),
            report.time.what(),
            exact_time(signed(closest.value_ns)),
            limit.asked(closest.side),
            limit.source,
            report.broken.sum(),
            report.count
        );
        // A long reset does harm on parasite power alone, and whether anybody has that is not always known.
        let is_open = report.time == LineTime::ResetLow
            && report.broken.least == 0
            && party.power == Power::Unknown
            && !party.families.contains(&Family::Ds28ea00);
        // Nor how many answer at once, where none was found to be alone.
        let most_ns = match report.speed {
            Speed::Standard => SEVERAL_PRESENCE_NS,
            Speed::Overdrive => SEVERAL_FAST_PRESENCE_NS,
        };
        let is_of_several = report.time == LineTime::PresenceLow
            && report.broken.least == 0
            && !party.is_alone
            && report.most_ns <= most_ns;
        let weight = if is_open || is_of_several { Weight::Hint } else { Weight::Fault };
        self.push(at_worst(Topic::Timing, weight, cause, closest, report.broken.sum(), text));
    }

    /// Highs that are too short for anything.
    pub fn tell_spikes(&mut self, Spikes { count, first_ns, last_ns }: Spikes) {
        if count > 0 {
            let text = "the line was high for less than a quarter of a microsecond inside of a low, which was read as one: noise, \
                        or an input without hysteresis on a slow edge"
                .to_owned();
            let (topic, weight, cause) = (Topic::Stray, Weight::Hint, Cause::Line);
            self.push(Finding { topic, weight, cause, at_ns: first_ns, last_ns, count, sensor: None, text });
        }
    }

    /// A line that is low for longer than anybody resets it.
    fn tell_long_lows(&mut self, times: &[LineTimeReport]) {
        let resets = times.iter().filter(|of| of.time == LineTime::ResetLow && of.most_ns >= NO_SUPPLY_NS);
        for &LineTimeReport { most_ns, most_at_ns: at_ns, .. } in resets {
            let text = format!(
                "the line is low for up to {}: a supply that is off, a short, or a signal that was captured inverted",
                exact_time(signed(most_ns))
            );
            let (topic, weight, cause) = (Topic::StuckLow, Weight::Hint, Cause::Line);
            self.push(Finding { topic, weight, cause, at_ns, last_ns: at_ns, count: 1, sensor: None, text });
        }
    }
}

/// When a time was broken first and last is not kept, only when it was worst.
fn at_worst(topic: Topic, weight: Weight, cause: Cause, closest: Closest, count: u64, text: String) -> Finding {
    Finding { topic, weight, cause, at_ns: closest.at_ns, last_ns: closest.at_ns, count, sensor: None, text }
}
