//! Conversion times that were measured, by part and over all, against the longest that the datasheets allow.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::{Resolution, Supply};

use super::datasheet::conversion_max_us;
use super::measure::{MeasuredSensors, Series};
use super::spread::TimeSpread;

/// Conversion times at one resolution.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ConversionRow {
    /// The resolution; none for a DS18S20, which has none to choose.
    pub resolution_bits: Option<u8>,
    /// The longest that the datasheets allow.
    pub datasheet_max_us: u32,
    /// All that were measured, from the end of Convert T to the poll that found the sensor done. None: no conversion could be polled.
    pub measured: Option<TimeSpread>,
    /// By so much each of them may be too long: the longest time between two polls.
    pub grain_us: u32,
    /// Whether the slowest was too slow for the datasheet, beyond the grain.
    pub pace: Pace,
    /// Each of them, for plots.
    pub times_us: Vec<u32>,
    /// The same by part, in the order of the part numbers.
    pub parts: Vec<PartRow>,
    /// Sensors whose conversions could not be polled, since they are on parasite power. Their times are the datasheet's.
    pub unwatched_sensors: u32,
}

/// Conversion times of one part.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct PartRow {
    /// The part.
    pub part: String,
    /// How many sensors of it were watched.
    pub sensors: u32,
    /// Their times.
    pub measured: TimeSpread,
}

/// How conversions keep to the datasheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Pace {
    /// All were done in time.
    InTime,
    /// At least one was not.
    TooSlow,
    /// No conversion could be polled.
    NotSeen,
}

impl ConversionRow {
    /// The conversions measured, if they count on such a line: one on parasite power has to wait for the longest.
    #[must_use]
    pub fn seen_on(&self, supply: Supply) -> Option<TimeSpread> {
        self.measured.filter(|_| supply == Supply::Local)
    }
}

/// A row for each resolution at which a sensor converted, and one for sensors without a choice.
#[must_use]
pub fn conversion_rows(measured: &MeasuredSensors) -> Vec<ConversionRow> {
    let settings = Resolution::ALL.into_iter().map(Some).chain([None]);
    settings.filter_map(|resolution| row(measured, resolution)).collect()
}

fn row(measured: &MeasuredSensors, resolution: Option<Resolution>) -> Option<ConversionRow> {
    let members = &measured.party.members;
    let series: Vec<&Series> = measured.series.iter().filter(|series| series.resolution == resolution).collect();
    if series.is_empty() {
        return None;
    }
    let times = |series: &[&Series]| -> Vec<u32> {
        series.iter().flat_map(|series| series.busy.iter().map(|busy| busy.us)).collect()
    };
    let mut names: Vec<&str> = series.iter().map(|series| members[series.member].part.part()).collect();
    names.sort_unstable();
    names.dedup();
    let parts = names.into_iter().filter_map(|part| {
        let own: Vec<&Series> = series
            .iter()
            .copied()
            .filter(|series| members[series.member].part.part() == part && !series.busy.is_empty())
            .collect();
        Some(PartRow { part: part.to_owned(), sensors: number(own.len()), measured: TimeSpread::of(&times(&own))? })
    });
    let parts = parts.collect();
    let busy = || series.iter().flat_map(|series| &series.busy);
    let datasheet_max_us = conversion_max_us(resolution);
    let all = times(&series);
    // The poll before found it busy, so it took at least that long.
    let pace = match busy().map(|busy| busy.us.saturating_sub(busy.grain_us)).max() {
        None => Pace::NotSeen,
        Some(us) if us > datasheet_max_us => Pace::TooSlow,
        Some(_) => Pace::InTime,
    };
    Some(ConversionRow {
        resolution_bits: resolution.map(Resolution::bits),
        datasheet_max_us,
        measured: TimeSpread::of(&all),
        grain_us: busy().map(|busy| busy.grain_us).max().unwrap_or(0),
        pace,
        times_us: all,
        parts,
        unwatched_sensors: number(
            series.iter().filter(|series| members[series.member].supply == Supply::Parasite).count(),
        ),
    })
}

/// A count of sensors, of which a line has few.
pub(super) fn number(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
