//! The times of the master's edges, held against the datasheets' limits.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{EdgeReport, Looks, Nearest, ParameterReport, Pulses, Unclear, Violation};

/// What was seen of the master's edges in a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct EdgeRecord {
    /// Whose time the moments are in.
    pub clock: EdgeClock,
    /// Each time that has limits.
    pub parameters: Vec<ParameterReport>,
    /// How many times were outside their limits, in all.
    pub violated: u64,
    /// The first of them.
    pub violations: Vec<Violation>,
    /// Low pulses of the master.
    pub pulses: Pulses,
    /// Looks of the master at the line.
    pub looks: Looks,
    /// What could not be classified or not be measured.
    pub unclear: Unclear,
}

/// Whose time the moments of edges are in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum EdgeClock {
    /// That of an emulated chip: nanoseconds since its power came.
    EmulatedChip,
    /// That of the virtual line: nanoseconds since it was made.
    VirtualLine,
    /// That of an instrument on the line: nanoseconds since its recording began.
    Instrument,
}

impl EdgeRecord {
    /// What is recorded of a report.
    #[must_use]
    pub fn new(clock: EdgeClock, report: EdgeReport) -> Self {
        let EdgeReport { parameters, violations, violated, pulses, looks, unclear } = report;
        Self { clock, parameters, violated, violations, pulses, looks, unclear }
    }

    /// The time that came nearest to one of its limits, or went furthest beyond it, and its nearest measurement.
    #[must_use]
    pub fn nearest(&self) -> Option<(&ParameterReport, Nearest)> {
        let seen = self.parameters.iter().filter_map(|parameter| Some((parameter, parameter.seen?.nearest?)));
        seen.min_by_key(|(_, nearest)| nearest.margin_ns)
    }
}

#[cfg(test)]
mod tests {
    use slotwise::thermometer::Family;

    use super::super::{Edge, EdgeJudge};
    use super::*;
    use crate::{Limits, Parameter, Side};

    /// One reset and a slot whose look is too late, of a DS18B20.
    fn record() -> EdgeRecord {
        let mut judge = EdgeJudge::new(Limits::for_families(&[Family::Ds18b20]));
        for (at_us, edge) in [
            (0, Edge::DriveLow),
            (490, Edge::Release),
            (560, Edge::Look),
            (1_000, Edge::DriveLow),
            (1_004, Edge::Release),
            (1_017, Edge::Look),
            (1_070, Edge::DriveLow),
        ] {
            judge.feed(at_us * 1_000, edge);
        }
        EdgeRecord::new(EdgeClock::EmulatedChip, judge.finish())
    }

    #[test]
    fn a_record_reads_back_as_it_was_written() {
        let written = serde_json::to_string(&record()).unwrap();
        assert_eq!(serde_json::from_str::<EdgeRecord>(&written).unwrap(), record());
        assert!(written.contains(r#""part":"DS18B20","basis":"own-datasheet""#), "{written}");
    }

    #[test]
    fn a_record_is_as_its_schema_says() {
        let schema = serde_json::to_value(schemars::schema_for!(EdgeRecord)).unwrap();
        let mut schemas = boon::Schemas::new();
        let mut compiler = boon::Compiler::new();
        compiler.add_resource("edges.json", schema).unwrap();
        let index = compiler.compile("edges.json", &mut schemas).unwrap();
        let mut value = serde_json::to_value(record()).unwrap();
        assert!(schemas.validate(&value, index).is_ok());
        value["violations"][0]["side"] = "beside".into();
        assert!(schemas.validate(&value, index).is_err());
    }

    #[test]
    fn the_nearest_is_the_one_furthest_beyond_its_limit() {
        let record = record();
        let (time, nearest) = record.nearest().unwrap();
        assert_eq!(time.parameter, Parameter::ReadSample);
        let expected = Nearest { margin_ns: -2_000, value_ns: 17_000, side: Side::Most, at_ns: 1_000_000 };
        assert_eq!(nearest, expected);
    }
}
