//! The state of the live view as data: rounds of readings update it, `view` draws it.

use std::collections::VecDeque;
use std::time::Duration;

use super::trend::{Trend, WINDOW_S};
use crate::cli::sighting::SensorReading;
use slotwise_record::ReadingOutcome;
use slotwise_record::Subject;
use slotwise_scenario::Values;

/// Readings that are kept of a sensor.
const KEPT: usize = 600;

/// One round of readings, in the order of the sensors.
#[derive(Clone, Debug)]
pub(in crate::cli) struct Round {
    /// Time of the rig.
    pub(in crate::cli) at: Duration,
    pub(in crate::cli) seen: Vec<SensorReading>,
}

/// An event from the reading thread for the screen.
#[derive(Clone, Debug)]
pub(in crate::cli) enum News {
    Round(Round),
    /// The whole rig failed: what is wrong, and what to do about it.
    Broken {
        at: Duration,
        what: String,
        hint: String,
    },
}

/// The quality of a sensor's last reading.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum SensorState {
    /// No reading yet.
    Waiting,
    /// The last reading is free of doubts.
    Good,
    /// The last reading has a doubt.
    Doubted(String),
    /// The last attempt gave no reading.
    Failed(String),
}

/// One sensor.
#[derive(Clone, Debug)]
pub(super) struct Track {
    pub(super) sensor: Subject,
    pub(super) standing: SensorState,
    /// The last reading without a doubt, and its time.
    pub(super) last: Option<(Duration, f64)>,
    pub(super) least: Option<f64>,
    pub(super) most: Option<f64>,
    /// Seconds and degrees.
    pub(super) kept: VecDeque<(f64, f64)>,
    /// The resolution of its readings, in degrees.
    step: f64,
    pub(super) failed: u32,
    /// The last failure or doubt.
    pub(super) last_error: Option<String>,
    /// Which numbers are asked for, and what is to be said of the last good one: as corrected, and from what.
    values: Values,
    pub(super) note: String,
}

/// All of it.
#[derive(Clone, Debug)]
pub(in crate::cli) struct State {
    pub(super) rig: String,
    pub(super) interval: Duration,
    pub(super) tracks: Vec<Track>,
    pub(super) now: Duration,
    pub(super) rounds: u32,
    pub(super) readings: u32,
    pub(super) not_good: u32,
    pub(super) broken: Option<(String, String)>,
    pub(super) is_paused: bool,
    pub(super) is_helping: bool,
    /// The first sensor that is shown.
    pub(super) top: usize,
}

impl State {
    pub(in crate::cli) fn new(rig: String, interval: Duration, sensors: &[Subject], values: Values) -> Self {
        let track = |sensor: &Subject| Track {
            sensor: sensor.clone(),
            standing: SensorState::Waiting,
            last: None,
            least: None,
            most: None,
            kept: VecDeque::new(),
            step: 0.0625,
            failed: 0,
            last_error: None,
            values,
            note: String::new(),
        };
        Self {
            rig,
            interval,
            tracks: sensors.iter().map(track).collect(),
            now: Duration::ZERO,
            rounds: 0,
            readings: 0,
            not_good: 0,
            broken: None,
            is_paused: false,
            is_helping: false,
            top: 0,
        }
    }

    /// Applies an event from the reading thread.
    pub(super) fn take(&mut self, news: News) {
        match news {
            News::Broken { at, what, hint } => {
                self.now = at;
                self.rounds += 1;
                // Whatever is on the screen is not what the sensors say now.
                for track in &mut self.tracks {
                    self.readings += 1;
                    self.not_good += 1;
                    track.fail(SensorState::Failed("the rig is broken".into()), &what);
                }
                self.broken = Some((what, hint));
            }
            News::Round(Round { at, seen }) => {
                self.broken = None;
                self.now = at;
                self.rounds += 1;
                for (track, seen) in self.tracks.iter_mut().zip(seen) {
                    self.readings += 1;
                    self.not_good += u32::from(!track.take(at, &seen));
                }
            }
        }
    }

    /// Resets minimum and maximum.
    pub(super) fn reset(&mut self) {
        for track in &mut self.tracks {
            let now = track.last.map(|(_, degrees)| degrees).filter(|_| track.standing == SensorState::Good);
            (track.least, track.most) = (now, now);
        }
    }

    /// Moves through the sensors, of which so many are shown.
    pub(super) fn scroll(&mut self, by: isize, shown: usize) {
        let last = self.tracks.len().saturating_sub(shown.max(1));
        self.top = self.top.saturating_add_signed(by).min(last);
    }

    /// The lines left on the terminal when the view ends: one for each sensor.
    pub(in crate::cli) fn summary(&self) -> Vec<String> {
        let width = self.tracks.iter().map(|track| track.name().chars().count()).max().unwrap_or(0);
        let of = |degrees: Option<f64>| degrees.map_or_else(|| "none".into(), degrees_text);
        self.tracks
            .iter()
            .map(|track| {
                let last = of(track.last.map(|(_, degrees)| degrees));
                format!(
                    "{:width$}  last {last}, lowest {}, highest {}; {} of {} not good",
                    track.name(),
                    of(track.least),
                    of(track.most),
                    track.failed,
                    self.rounds
                )
            })
            .collect()
    }
}

impl Track {
    pub(super) fn name(&self) -> String {
        self.sensor.label.clone().unwrap_or_else(|| self.sensor.rom.to_string())
    }

    pub(super) fn trend(&self) -> Trend {
        let newest = self.kept.back().map_or(0.0, |(at, _)| *at);
        let recent: Vec<(f64, f64)> = self.kept.iter().copied().filter(|(at, _)| newest - at <= WINDOW_S).collect();
        Trend::of(&recent, self.step)
    }

    fn fail(&mut self, standing: SensorState, why: &str) {
        self.standing = standing;
        self.failed += 1;
        self.last_error = Some(why.to_owned());
    }

    /// The resolution of its readings, in degrees.
    pub(super) const fn step(&self) -> f64 {
        self.step
    }

    /// Applies a reading. Returns whether it is free of doubts.
    fn take(&mut self, at: Duration, seen: &SensorReading) -> bool {
        let is_good = seen.is_trusted(&self.sensor);
        match seen {
            SensorReading::Reading(ReadingOutcome::Read(number)) if is_good => {
                let read = f64::from(number.sixteenths) / 16.0;
                // The correction is there only where it was asked for.
                let degrees =
                    number.corrected_millicelsius.map_or(read, |millicelsius| f64::from(millicelsius) / 1000.0);
                self.note = match number.text().split_once(" corrected ") {
                    Some((_, how)) => format!("corrected {how}"),
                    None => seen.remark(self.values),
                };
                // 12 bits come in sixteenths, 9 bits in halves; without a resolution sixteenths are computed.
                self.step = 1.0 / f64::from(1_u32 << number.resolution_bits.unwrap_or(12).clamp(9, 12).abs_diff(8));
                self.standing = SensorState::Good;
                self.last = Some((at, degrees));
                self.least = Some(self.least.map_or(degrees, |least| least.min(degrees)));
                self.most = Some(self.most.map_or(degrees, |most| most.max(degrees)));
                if self.kept.len() == KEPT {
                    self.kept.pop_front();
                }
                self.kept.push_back((at.as_secs_f64(), degrees));
            }
            SensorReading::Reading(ReadingOutcome::Read(_)) => {
                let why = format!("{}: {}", seen.number(), seen.remark(self.values));
                self.fail(SensorState::Doubted(why.clone()), &why);
            }
            SensorReading::Reading(ReadingOutcome::Failed(_)) | SensorReading::NotDecoded(_) => {
                let why = seen.remark(self.values);
                self.fail(SensorState::Failed(why.clone()), &why);
            }
        }
        is_good
    }
}

/// Degrees as they are shown: exactly, as far as sixteenths go.
pub(super) fn degrees_text(degrees: f64) -> String {
    let text = format!("{degrees:.4}");
    format!("{} degC", text.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use slotwise::thermometer::{AlarmLimits, Doubt, Evidence};
    use slotwise_bench::ideal::rig;
    use slotwise_record::{FailureRecord, ReadNumber};
    use slotwise_terms::FailureKind;

    pub(in crate::cli::watch) fn read(sixteenths: i16, doubts: Vec<Doubt>) -> SensorReading {
        SensorReading::Reading(ReadingOutcome::Read(ReadNumber {
            celsius: f64::from(sixteenths) / 16.0,
            sixteenths,
            correction_millicelsius: None,
            corrected_millicelsius: None,
            bytes: [0; 9],
            resolution_bits: Some(12),
            limits: AlarmLimits { high: 75, low: 70 },
            doubts,
            evidence: Evidence::SeenBusy,
            measured_again: 0,
        }))
    }

    pub(in crate::cli::watch) fn failed() -> SensorReading {
        let text = "the sensor did not answer (all bits read 1)".to_owned();
        SensorReading::Reading(ReadingOutcome::Failed(FailureRecord { kind: FailureKind::NoAnswer, text, bytes: None }))
    }

    pub(in crate::cli::watch) fn state(sensors: u8) -> State {
        let rig = rig(sensors);
        let subjects: Vec<Subject> =
            rig.inventory.iter().map(|sensor| Subject { label: Some(sensor.label.clone()), rom: sensor.rom }).collect();
        State::new("shed".into(), Duration::from_secs(2), &subjects, Values::AsRead)
    }

    pub(in crate::cli::watch) fn round(second: u64, seen: Vec<SensorReading>) -> News {
        News::Round(Round { at: Duration::from_secs(second), seen })
    }

    #[test]
    fn a_failing_sensor_shows_its_last_reading_as_old_until_it_answers_again() {
        let mut state = state(1);
        state.take(round(1, vec![read(320, Vec::new())]));
        assert_eq!(state.tracks[0].standing, SensorState::Good);
        state.take(round(3, vec![failed()]));
        let track = &state.tracks[0];
        assert!(matches!(&track.standing, SensorState::Failed(why) if why.contains("did not answer")));
        assert_eq!(track.last, Some((Duration::from_secs(1), 20.0)));
        assert_eq!((state.readings, state.not_good, track.failed), (2, 1, 1));
        state.take(round(5, vec![read(336, Vec::new())]));
        assert_eq!((state.tracks[0].least, state.tracks[0].most), (Some(20.0), Some(21.0)));
        assert_eq!(state.tracks[0].standing, SensorState::Good);
    }

    #[test]
    fn a_corrected_reading_shows_the_raw_one() {
        let mut state = state(1);
        let SensorReading::Reading(outcome) = read(386, Vec::new()) else { panic!() };
        state.take(round(1, vec![SensorReading::Reading(outcome.corrected(Some(-80)))]));
        assert_eq!(state.tracks[0].last, Some((Duration::from_secs(1), 24.045)));
        assert_eq!(state.tracks[0].note, "corrected by -0.080 from 24.125");
    }

    #[test]
    fn a_doubtful_reading_changes_neither_minimum_nor_maximum() {
        let mut state = state(1);
        state.take(round(1, vec![read(320, Vec::new())]));
        state.take(round(3, vec![read(1360, vec![Doubt::PowerOnValue])]));
        assert_eq!((state.tracks[0].least, state.tracks[0].most), (Some(20.0), Some(20.0)));
        assert!(matches!(&state.tracks[0].standing, SensorState::Doubted(why) if why.starts_with("85 degC: ")));
        state.reset();
        assert_eq!(state.tracks[0].most, None, "what is doubted now is not what it was");
    }

    #[test]
    fn after_a_broken_rig_every_reading_is_shown_as_old() {
        let mut state = state(3);
        state.take(round(1, vec![read(320, Vec::new()); 3]));
        let at = Duration::from_secs(2);
        state.take(News::Broken { at, what: "line stuck low".into(), hint: "look".into() });
        assert_eq!((state.readings, state.not_good), (6, 3));
        assert!(state.tracks.iter().all(|track| matches!(track.standing, SensorState::Failed(_))));
        state.take(round(3, vec![read(320, Vec::new()); 3]));
        assert_eq!(state.broken, None);
    }

    #[test]
    fn memory_does_not_grow_with_the_time_watched() {
        let mut state = state(1);
        for second in 0..5_000 {
            state.take(round(second, vec![read(320, Vec::new())]));
        }
        assert_eq!(state.tracks[0].kept.len(), KEPT);
    }

    #[test]
    fn the_sensors_are_scrolled_to_their_ends() {
        let mut state = state(20);
        state.scroll(-3, 5);
        assert_eq!(state.top, 0);
        state.scroll(100, 5);
        assert_eq!(state.top, 15);
        state.scroll(1, 50);
        assert_eq!(state.top, 0);
    }

    #[test]
    fn temperature_steps_follow_the_resolution() {
        for (bits, step) in [(9, 0.5), (10, 0.25), (11, 0.125), (12, 0.0625)] {
            let mut state = state(1);
            let SensorReading::Reading(ReadingOutcome::Read(mut number)) = read(320, Vec::new()) else { panic!() };
            number.resolution_bits = Some(bits);
            state.take(round(1, vec![SensorReading::Reading(ReadingOutcome::Read(number))]));
            assert!((state.tracks[0].step - step).abs() < f64::EPSILON, "{bits}");
        }
    }
}
