//! All that a study found, as data, and how it is computed from what was measured.

use super::advice::{Advice, advise};
use super::bus_time::BusTime;
use super::conversion::{ConversionRow, conversion_rows, number};
use super::datasheet::{conversion_max_us, step_celsius};
use super::energy::{ConversionFrom, EnergyRow, Figures, PullUpCurrent, life_days, pull_up_current};
use super::measure::MeasuredSensors;
use super::members::{Member, Remark};
use super::noise::{NoiseRow, noise_rows};
use super::rounds::{RoundRow, TrackingRow, USUAL_NUMBERS, round_rows, round_us, tracking_celsius};
#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::thermometer::{Resolution, Supply};
use slotwise_record::{Head, MeasuredOn};
use slotwise_rig::Rig;

/// Version of this form. It changes whenever a reader of the old form would misread the new one.
pub const STUDY_VERSION: u32 = 1;

/// A study of the resolutions of the sensors on a rig.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Study {
    /// What every file begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Where it was measured.
    #[serde(flatten)]
    pub on: MeasuredOn,
    /// Whether all was measured. If not, the user ended it early, and it is on the resolutions that were measured by then.
    pub complete: bool,
    /// How the line as a whole is powered.
    #[cfg_attr(feature = "schema", schemars(with = "slotwise_terms::notation::SupplyForm"))]
    pub supply: Supply,
    /// How often each sensor converted at each resolution, alone.
    pub repeats: u32,
    /// Who took part.
    pub sensors: Vec<Member>,
    /// Who did not, and why.
    pub left_out: Vec<Remark>,
    /// Conversions or readings that failed, or that may be no measurement, which are in no figure.
    pub failures: Vec<FailedSeries>,
    /// Whose settings were not restored.
    pub not_restored: Vec<Remark>,
    /// Conversion times.
    pub conversions: Vec<ConversionRow>,
    /// Readings at rest.
    pub noise: Vec<NoiseRow>,
    /// What requests take on this line. None: the rig does not measure it, and nothing that depends on it is known.
    pub bus: Option<BusTime>,
    /// Readings per second.
    pub rounds: Vec<RoundRow>,
    /// The user's wishes.
    pub wishes: Wishes,
    /// How far readings are behind.
    pub tracking: Vec<TrackingRow>,
    /// Charge, energy and life.
    pub energy: Vec<EnergyRow>,
    /// The current through the pull-up, if the rig says what it is.
    pub pull_up: Option<PullUpCurrent>,
    /// What is advised, if anything was demanded.
    pub advice: Option<Advice>,
}

/// What failed of one sensor at one resolution.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FailedSeries {
    /// The sensor.
    #[serde(flatten)]
    pub sensor: slotwise_record::Subject,
    /// The resolution; none for a DS18S20.
    pub resolution_bits: Option<u8>,
    /// How often a conversion or a read failed.
    pub failed: u32,
    /// How it failed the first time.
    pub failure: Option<String>,
    /// How many readings may be no measurement.
    pub doubtful: u32,
}

impl Study {
    /// What follows from what was measured.
    #[must_use]
    pub fn of(rig: &Rig, on: MeasuredOn, measured: MeasuredSensors, wishes: Wishes) -> Self {
        let conversions = conversion_rows(&measured);
        let bus = measured.bus.time();
        let mut numbers = USUAL_NUMBERS.to_vec();
        if !numbers.contains(&wishes.sensors) {
            numbers.push(wishes.sensors);
            numbers.sort_unstable();
        }
        let pull_up = bus.as_ref().and_then(|bus| pull_up(rig, bus, &wishes));
        let rounds =
            bus.as_ref().map_or_else(Vec::new, |bus| round_rows(&conversions, measured.party.supply, bus, &numbers));
        let tracking = bus.as_ref().map_or_else(Vec::new, |bus| tracking(&conversions, bus, &wishes));
        let energy = energy(&conversions, measured.party.supply, pull_up.as_ref(), &wishes);
        let advice = bus.as_ref().and_then(|bus| advise(&wishes, measured.party.supply, &conversions, bus));
        Self {
            head: Head::of(STUDY_VERSION),
            on,
            complete: measured.complete,
            supply: measured.party.supply,
            repeats: measured.repeats,
            failures: failures(&measured),
            noise: noise_rows(&measured),
            sensors: measured.party.members,
            left_out: measured.party.left_out,
            not_restored: measured.not_restored,
            conversions,
            bus,
            rounds,
            wishes,
            tracking,
            energy,
            pull_up,
            advice,
        }
    }

    /// How many sensors have no resolution to choose.
    #[must_use]
    pub fn sensors_without_choice(&self) -> u32 {
        number(self.sensors.iter().filter(|member| !member.part.has_resolution()).count())
    }
}

fn failures(measured: &MeasuredSensors) -> Vec<FailedSeries> {
    let some = measured.series.iter().filter(|series| series.failed > 0 || series.doubtful > 0);
    some.map(|series| FailedSeries {
        sensor: measured.party.members[series.member].sensor.clone(),
        resolution_bits: series.resolution.map(Resolution::bits),
        failed: series.failed,
        failure: series.failure.clone(),
        doubtful: series.doubtful,
    })
    .collect()
}

fn tracking(conversions: &[ConversionRow], bus: &BusTime, wishes: &Wishes) -> Vec<TrackingRow> {
    let row = |row: &ConversionRow| {
        let age_s = round_us(bus, row.datasheet_max_us, wishes.sensors) / 1e6;
        let off = |age_s| tracking_celsius(wishes.rate_celsius_per_h, age_s, step_celsius(resolution(row)));
        TrackingRow {
            resolution_bits: row.resolution_bits,
            age_s,
            fresh_celsius: off(age_s),
            stale_celsius: off(age_s + wishes.interval_s),
        }
    };
    conversions.iter().map(row).collect()
}

fn energy(
    conversions: &[ConversionRow],
    supply: Supply,
    pull_up: Option<&PullUpCurrent>,
    wishes: &Wishes,
) -> Vec<EnergyRow> {
    let rows = conversions.iter().flat_map(|row| [Figures::Typical, Figures::Maximum].map(|figures| (row, figures)));
    rows.map(|(row, figures)| {
        let longest = (conversion_max_us(resolution(row)), ConversionFrom::Datasheet);
        let (conversion_us, conversion_from) = match (figures, row.seen_on(supply)) {
            (Figures::Typical, Some(measured)) => (measured.median_us, ConversionFrom::Measured),
            (Figures::Typical, None) | (Figures::Maximum, _) => longest,
        };
        let charge_uc = figures.charge_uc(conversion_us);
        let average_ua = figures.average_ua(conversion_us, wishes.interval_s);
        let all_ua = average_ua.map(|average_ua| average_ua * f64::from(wishes.sensors));
        let life = |more_ua: f64| Some(life_days(wishes.cell_mah?, all_ua? + more_ua));
        EnergyRow {
            resolution_bits: row.resolution_bits,
            figures,
            conversion_us,
            conversion_from,
            charge_uc,
            energy_uj: wishes.volts.map(|volts| charge_uc * volts),
            average_ua,
            life_days: life(0.0),
            life_with_pull_up_days: pull_up.and_then(|pull_up| life(pull_up.average_ua)),
        }
    })
    .collect()
}

fn pull_up(rig: &Rig, bus: &BusTime, wishes: &Wishes) -> Option<PullUpCurrent> {
    let line = rig.virtual_line()?;
    let timing = rig.timing.timing();
    // What is between line and ground is the rig's own supply, whatever cell feeds it.
    let electrical = (f64::from(line.supply_mv) / 1e3, f64::from(line.pull_up_ohm?));
    Some(pull_up_current(bus, &timing, electrical, wishes.sensors, wishes.interval_s))
}

fn resolution(row: &ConversionRow) -> Option<Resolution> {
    row.resolution_bits.and_then(Resolution::from_bits)
}

/// The wishes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Wishes {
    /// How fast the temperature moves, in degrees Celsius per hour.
    pub rate_celsius_per_h: f64,
    /// From one reading of a sensor to its next.
    pub interval_s: f64,
    /// Charge of the cell, in milliampere hours.
    pub cell_mah: Option<f64>,
    /// Voltage of supply or cell. None: it is not known.
    pub volts: Option<f64>,
    /// How many sensors.
    pub sensors: u32,
    /// Steps that are needed, in degrees Celsius.
    pub steps_celsius: Option<f64>,
    /// How often a new reading of each sensor is needed.
    pub every_s: Option<f64>,
}
