//! The report of the line against the waveform that the line itself recorded.

use std::slice::from_ref;

use slotwise::bus::{SearchScope, Target};
use slotwise::thermometer::{Receipt, Wait};
use slotwise_bridge::message::{LineReport, Request, SearchFrom, Spread, TimingSet};
use slotwise_virtual_line::{
    Cable, Cpu, Fault, LineConfig, Recording, SensorConfig, SensorTiming, Signal, State, TimingValues, Waveform,
};

use crate::rig::{Rig, Sampling, code, ds18b20};

/// What a waveform shows of one reset pulse, in nanoseconds.
#[derive(Debug, Default)]
struct Reset {
    rise: Option<u64>,
    delay: Option<u64>,
    width: Option<u64>,
}

/// What a waveform shows.
#[derive(Debug, Default)]
struct Shown {
    resets: Vec<Reset>,
    slots: u32,
}

fn show(waveform: &Waveform) -> Shown {
    let mut shown = Shown::default();
    let master: Vec<_> = waveform.of(Signal::Master).collect();
    let mut index = 0;
    while let [low, released, ..] = &master[index..] {
        assert_eq!((low.to, released.to), (State::Low, State::Released));
        index += 2;
        // DS18B20 datasheet (7/19), AC table: a slot is low for up to 120 us, a reset pulse for 480 us.
        if released.at_ns - low.at_ns < 480_000 {
            shown.slots += 1;
            continue;
        }
        let until = master.get(index).map_or(u64::MAX, |next| next.at_ns);
        let edges: Vec<_> =
            waveform.of(Signal::Line).filter(|edge| (released.at_ns..until).contains(&edge.at_ns)).collect();
        let high = edges.iter().find(|edge| edge.to == State::High).map(|edge| edge.at_ns);
        let low = edges.iter().find(|edge| edge.to == State::Low).map(|edge| edge.at_ns);
        let end = edges.iter().rfind(|edge| edge.to == State::High).map(|edge| edge.at_ns);
        shown.resets.push(Reset {
            rise: high.map(|at| at - released.at_ns),
            delay: low.and_then(|at| Some(at - high?)),
            width: low.and_then(|at| end?.checked_sub(at)),
        });
    }
    shown
}

fn spread(values: impl Iterator<Item = Option<u64>>) -> Option<(u64, u64)> {
    let values: Vec<_> = values.flatten().collect();
    Some((*values.iter().min()?, *values.iter().max()?))
}

/// Asks once, and compares all that the report says with the waveform and the line's time.
#[track_caller]
fn check(rig: &mut Rig<impl slotwise::line::StrongPullUp>, request: Request) -> LineReport {
    rig.line.record(Recording::default());
    let began_ns = rig.line.now_ns();
    let report = rig.ask(request).line;
    let ended_ns = rig.line.now_ns();
    let shown = show(&rig.line.stop_recording().unwrap());
    assert_eq!((report.resets, report.slots), (shown.resets.len() as u32, shown.slots));
    // Reading a counter takes time as well, so a few microseconds more or less.
    assert!(report.at_us.abs_diff(began_ns / 1_000) <= 2, "{report:?}");
    assert!(report.spent_us.abs_diff((ended_ns - began_ns) / 1_000) <= 2, "{report:?}");
    for (name, measured, truth) in [
        ("rise", report.rise, spread(shown.resets.iter().map(|reset| reset.rise))),
        ("delay", report.presence_delay, spread(shown.resets.iter().map(|reset| reset.delay))),
        ("width", report.presence_width, spread(shown.resets.iter().map(|reset| reset.width))),
    ] {
        let near = |measured: u32, truth: u64| u64::from(measured).abs_diff(truth) <= u64::from(report.grain_ns);
        let agree = match (measured, truth) {
            (Some(Spread { least_ns, most_ns }), Some((least, most))) => near(least_ns, least) && near(most_ns, most),
            (None, None) => true,
            _ => false,
        };
        assert!(agree, "{name}: measured {measured:?}, truly {truth:?}, grain {} ns", report.grain_ns);
    }
    report
}

const SEARCH: Request = Request::Search { scope: SearchScope::All, from: SearchFrom::Start };

fn read(sensor: &SensorConfig) -> Request {
    Request::Read { rom: code(sensor), receipt: Receipt::NONE }
}

fn presence(delay_us: u32, width_us: u32, serial: u64) -> SensorConfig {
    let values = TimingValues {
        presence_delay_ns: delay_us * 1_000,
        presence_width_ns: width_us * 1_000,
        write_sample_ns: 30_000,
        read_zero_hold_ns: 28_000,
        reset_detect_ns: 400_000,
        oscillator_ppm: 0,
    };
    SensorConfig { timing: SensorTiming::new(values).unwrap(), ..ds18b20(serial) }
}

#[test]
fn on_a_short_line_the_report_is_exact() {
    let sensor = ds18b20(1);
    let mut rig = Rig::new(LineConfig::default(), from_ref(&sensor));
    let report = check(&mut rig, read(&sensor));
    assert_eq!((report.resets, report.slots, report.grain_ns), (1, 152, 0));
    let Some(delay) = report.presence_delay else { panic!("{report:?}") };
    // 28 us from the sensor's threshold, to the master's threshold a little earlier or later.
    assert!((27_000..29_000).contains(&delay.least_ns), "{report:?}");
    assert!(check(&mut rig, SEARCH).slots > 190);
    check(&mut rig, Request::Convert { target: Target::All, wait: Wait::Poll, max_us: 750_000 });
    check(&mut rig, Request::Save(code(&sensor)));
    // A request that leaves the line alone has nothing left of those before.
    assert_eq!(check(&mut rig, Request::Look).rise, None);
}

#[test]
fn on_a_slow_cable_the_rise_is_seen() {
    let sensor = ds18b20(1);
    let rise = |length_mm| {
        let config = LineConfig { cable: Cable { length_mm, pf_per_m: 50 }, ..LineConfig::default() };
        let mut rig = Rig::new(config, from_ref(&sensor));
        rig.ask(Request::SetTiming(TimingSet::LongLine));
        check(&mut rig, read(&sensor)).rise.unwrap().least_ns
    };
    // 1.2 RC to 70 % of the supply: 4.7 kohm with cable, 25 pF of the sensor and 10 pF of the pin.
    for length_mm in [1_000, 10_000, 30_000] {
        let rc_ns = 4.7 * (f64::from(length_mm) * 0.05 + 35.0);
        let expected = rc_ns * (1.0 / 0.3_f64).ln();
        let rise = f64::from(rise(length_mm));
        assert!((rise / expected - 1.0).abs() < 0.06, "{length_mm} mm: {rise} ns, about {expected} ns expected");
    }
}

#[test]
fn several_sensors_and_several_resets_make_a_spread() {
    // The second pulse begins before the first ends; then the third after both.
    for pulses in [[(15, 60), (40, 100), (20, 70)], [(15, 60), (16, 60), (60, 240)], [(15, 60), (17, 61), (58, 60)]] {
        let sensors: Vec<_> =
            (1..).zip(pulses).map(|(serial, (delay, width))| presence(delay, width, serial)).collect();
        let mut rig = Rig::new(LineConfig::default(), &sensors);
        let report = check(&mut rig, SEARCH);
        assert_eq!(report.resets, 3);
        let width = report.presence_width.unwrap();
        let first = pulses.iter().map(|pulse| pulse.0).min().unwrap();
        let last = pulses.iter().map(|pulse| pulse.0 + pulse.1).max().unwrap();
        assert!(width.most_ns.abs_diff((last - first) * 1_000) < 1_000, "{pulses:?}: {width:?}");
    }
}

#[test]
fn pulses_apart_are_measured_from_the_first_to_the_last() {
    let sensors = [presence(15, 60, 1), presence(60, 60, 2)];
    let fast = SensorConfig {
        timing: SensorTiming::outside_limits(TimingValues {
            presence_delay_ns: 200_000,
            presence_width_ns: 80_000,
            write_sample_ns: 30_000,
            read_zero_hold_ns: 28_000,
            reset_detect_ns: 400_000,
            oscillator_ppm: 0,
        })
        .unwrap(),
        ..ds18b20(3)
    };
    let mut rig = Rig::new(LineConfig::default(), &[sensors[0].clone(), sensors[1].clone(), fast]);
    let report = check(&mut rig, Request::Supply(Target::All));
    let width = report.presence_width.unwrap().most_ns;
    assert!(width.abs_diff(265_000) < 1_000, "15 us to 280 us: {report:?}");
}

#[test]
fn a_clock_that_looks_is_right_to_its_grain() {
    let sensor = ds18b20(1);
    for (mhz, clock_ns) in [(8, 500), (16, 250), (72, 56)] {
        for length_mm in [1_000, 5_000] {
            let cable = Cable { length_mm, pf_per_m: 50 };
            let config = LineConfig { cpu: Cpu::at_mhz(mhz), cable, ..LineConfig::default() };
            let hz = mhz * 1_000_000;
            let mut rig = Rig::with_clock(config, from_ref(&sensor), hz, Sampling::Polled { clock_ns });
            rig.ask(Request::SetTiming(TimingSet::LongLine));
            let report = check(&mut rig, Request::Supply(Target::All));
            // A sample is a pin call and a clock call; between two waits the driver makes some more. Waits of fewer than 128 ticks
            // are not watched.
            let calls_ns = 8 * (8_000 / mhz + u32::try_from(clock_ns).unwrap());
            assert!((1..calls_ns + 128_000 / mhz).contains(&report.grain_ns), "{mhz} MHz: {report:?}");
        }
    }
}

#[test]
fn a_line_that_does_not_rise_in_time_shows_every_reset_that_was_tried() {
    let sensor = ds18b20(1);
    let mut rig = Rig::new(LineConfig::default(), &[sensor]);
    rig.line.inject(Fault::PullUp { ohm: Some(220_000) }).unwrap();
    let report = check(&mut rig, Request::Supply(Target::All));
    assert!(report.resets >= 1, "{report:?}");
    assert!(report.rise.is_none_or(|rise| rise.least_ns > 9_500), "{report:?}");
}

#[test]
fn the_time_is_the_lines_as_long_as_the_clock_is_kept_going() {
    for (hz, sampling) in [(1_000_000_000, Sampling::Exact), (72_000_000, Sampling::Polled { clock_ns: 56 })] {
        let mut rig = Rig::with_clock(LineConfig::default(), &[], hz, sampling);
        for _ in 0..40 {
            rig.line.advance_ns(4_000_000_000);
            let _ = rig.service.now_us();
        }
        let report = rig.ask(Request::Look).line;
        assert!(report.at_us.abs_diff(160_000_000) < 10, "{hz} Hz: {report:?}");
    }
}
