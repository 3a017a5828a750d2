//! What is a reset, a slot, a sample; and what is none of them.

use Parameter as P;

use super::*;

const US: u64 = 1_000;

/// A low pulse of so many microseconds, at a moment in microseconds.
fn pulse(at_us: u64, low_us: u64) -> [(u64, Edge); 2] {
    [(at_us * US, Edge::DriveLow), ((at_us + low_us) * US, Edge::Release)]
}

fn look(at_us: u64) -> (u64, Edge) {
    (at_us * US, Edge::Look)
}

#[test]
fn a_pulse_between_two_kinds_is_the_nearer_one_and_breaks_its_limit() {
    // Half-way between tLOW1 and tLOW0 are 37.5 us, between tLOW0 and tRSTL 300 us.
    for (low_us, parameter) in [(37, P::WriteOneLow), (38, P::WriteZeroLow), (299, P::WriteZeroLow), (300, P::ResetLow)]
    {
        let report = judged(pulse(0, low_us));
        assert_eq!(report.of(parameter).violated, 1, "{low_us} us");
        assert_eq!(report.violated, 1, "{low_us} us");
        let Pulses { resets, zeros, ones } = report.pulses;
        assert_eq!(resets + zeros + ones, 1, "{low_us} us");
    }
}

#[test]
fn looks_beside_the_sample_are_no_samples() {
    let mut events = vec![look(0), look(5)];
    events.extend(pulse(10, 500));
    // Rise check, six for presence, two at the idle line.
    events.extend([519, 530, 560, 590, 700, 800, 980, 1_000, 1_010].map(look));
    events.extend(pulse(1_020, 65));
    // After a write 0, at the idle line.
    events.extend([1_086, 1_090].map(look));
    events.extend(pulse(1_100, 3));
    // The sample, and the idle line before the next slot.
    events.extend([1_112, 1_119, 1_170].map(look));
    events.extend(pulse(1_180, 65));
    let report = judged(events);
    let looks = Looks { samples: 1, rise_checks: 1, presence: 6, idle: 2 + 2 + 2 + 2, powered: 0 };
    assert_eq!(report.looks, looks);
    assert_eq!(report.seen(P::ReadSample).most_ns, 12_000);
    assert_eq!(report.pulses, Pulses { resets: 1, zeros: 2, ones: 1 });
    assert_eq!(report.violated, 0, "{:?}", report.violations);
    assert_eq!(report.unclear, Unclear::default());
}

#[test]
fn a_late_sample_is_a_violation_and_not_an_idle_look() {
    for (at_us, late) in [(80, true), (120, true), (121, false)] {
        let report = judged(pulse(0, 3).into_iter().chain([look(at_us)]).chain(pulse(200, 65)));
        assert_eq!(report.of(P::ReadSample).violated, u64::from(late), "{at_us} us");
        // A look after the end of the slot is no sample, and the slot is reported as not sampled.
        assert_eq!(report.unclear.slots_not_looked_at, u64::from(!late), "{at_us} us");
        assert_eq!(report.looks.idle, u64::from(!late), "{at_us} us");
    }
}

#[test]
fn a_pulse_that_no_look_could_have_seen_is_a_violation() {
    let after_reset = |looks: &[u64]| {
        let looks: Vec<(u64, Edge)> = looks.iter().map(|after_us| look(500 + after_us)).collect();
        judged(pulse(0, 500).into_iter().chain(looks).chain(pulse(1_000, 65)))
    };
    // Only before the latest beginning; one before and one after the pulse; only after it.
    for (looks, gap, last) in [(&[59][..], 0, 1), (&[20, 81][..], 1, 0), (&[76][..], 1, 0)] {
        let report = after_reset(looks);
        assert_eq!((report.of(P::PresenceGap).violated, report.of(P::PresenceLast).violated), (gap, last), "{looks:?}");
    }
    for looks in [&[60][..], &[75], &[20, 80], &[59, 119], &[60, 400]] {
        assert_eq!(after_reset(looks).violated, 0, "{looks:?}");
    }
    // A rise check is no look for presence.
    let report = after_reset(&[10]);
    assert_eq!((report.unclear.resets_not_looked_at, report.looks.rise_checks), (1, 1));
    assert_eq!(report.of(P::PresenceLast).seen, None);
}

#[test]
fn the_margin_is_the_smallest_of_all_and_is_reported_with_its_time() {
    let report = judged([pulse(0, 61), pulse(100, 119), pulse(300, 90)].into_iter().flatten());
    let nearest = Nearest { margin_ns: 1_000, value_ns: 61_000, side: Side::Least, at_ns: 0 };
    let expected = Seen { count: 3, least_ns: 61_000, most_ns: 119_000, nearest: Some(nearest) };
    assert_eq!(report.seen(P::WriteZeroLow), expected);
    let later = judged([pulse(0, 62), pulse(100, 119), pulse(300, 90)].into_iter().flatten());
    let nearest = Nearest { margin_ns: 1_000, value_ns: 119_000, side: Side::Most, at_ns: 100_000 };
    assert_eq!(later.nearest(P::WriteZeroLow), nearest);
}

#[test]
fn the_first_violations_are_kept_and_all_are_counted() {
    let events = (0..50).flat_map(|number| pulse(number * 100, 20));
    let report = judged(events);
    assert_eq!(report.violated, 50);
    let kept: Vec<u64> = report.violations.iter().map(|violation| violation.at_ns).collect();
    assert_eq!(kept, (0..20).map(|number| number * 100_000).collect::<Vec<_>>());
}

#[test]
fn nothing_in_nothing_out() {
    let report = judged([]);
    assert!(report.parameters.iter().all(|parameter| parameter.seen.is_none() && parameter.violated == 0));
    assert_eq!((report.violated, report.violations.len()), (0, 0));
    assert_eq!((report.pulses, report.looks), (Pulses::default(), Looks::default()));
    assert_eq!(report.unclear, Unclear::default());
}

#[test]
fn what_cannot_be_classified_is_counted() {
    let unclear = |events: &[(u64, Edge)]| judged(events.iter().copied()).unclear;
    let none = Unclear::default();
    assert_eq!(unclear(&[(0, Edge::Release)]), Unclear { without_beginning: 1, ..none });
    assert_eq!(unclear(&[(0, Edge::StrongOff)]), Unclear { without_beginning: 1, ..none });
    assert_eq!(
        unclear(&[(0, Edge::Release), (1, Edge::Release)]),
        Unclear { without_beginning: 1, repeated: 1, ..none }
    );
    let low = (0, Edge::DriveLow);
    assert_eq!(unclear(&[low]), Unclear { unfinished: 1, ..none });
    assert_eq!(unclear(&[low, (1, Edge::DriveLow)]), Unclear { unfinished: 1, repeated: 1, ..none });
    assert_eq!(unclear(&[low, look(1)]), Unclear { unfinished: 1, looks_while_low: 1, ..none });
    // A slot whose sample may be still to come, and a reset.
    assert_eq!(unclear(&[low, (3 * US, Edge::Release)]), Unclear { unfinished: 1, ..none });
    assert_eq!(unclear(&[low, (500 * US, Edge::Release)]), Unclear { unfinished: 1, ..none });
    assert_eq!(unclear(&[low, (65 * US, Edge::Release)]), none);
    assert_eq!(unclear(&[(0, Edge::StrongOn)]), Unclear { power_without_slot: 1, ..none });
    assert_eq!(
        unclear(&[(0, Edge::StrongOn), (1, Edge::StrongOn), (2, Edge::StrongOff), (3, Edge::StrongOff)]),
        Unclear { power_without_slot: 1, repeated: 2, ..none }
    );
}

#[test]
fn nothing_is_measured_across_a_break_in_time() {
    let mut events = pulse(1_000, 65).to_vec();
    events.extend(pulse(500, 65));
    let report = judged(events);
    assert_eq!(report.unclear, Unclear { out_of_order: 1, ..Unclear::default() });
    assert_eq!((report.of(P::Slot).seen, report.of(P::Recovery).seen), (None, None));
    assert_eq!(report.seen(P::WriteZeroLow).count, 2);
}

#[test]
fn the_strong_pull_up_is_judged_from_the_last_slot_and_to_the_next_edge() {
    let mut events = pulse(0, 65).to_vec();
    events.extend([(69 * US, Edge::StrongOn), look(500), (750_000 * US, Edge::StrongOff)]);
    events.extend(pulse(750_003, 500));
    let report = judged(events);
    assert_eq!(report.seen(P::PowerOn).least_ns, 4_000);
    assert_eq!(report.seen(P::PowerOff).least_ns, 3_000);
    // To the 10 us of tSPON; that the switch came after the edge at all is no matter of how much.
    assert_eq!(report.nearest(P::PowerOn).margin_ns, 6_000);
    assert_eq!(report.seen(P::PowerOff).nearest, None);
    assert_eq!((report.looks.powered, report.looks.idle), (1, 0));
    assert_eq!(report.violated, 0);
}

#[test]
fn a_switch_that_is_never_opened_is_judged_at_the_end() {
    let mut events = pulse(0, 65).to_vec();
    events.push((66 * US, Edge::StrongOn));
    events.extend(pulse(200, 65));
    let report = judged(events);
    assert_eq!(report.seen(P::PowerOff).least_ns, -65_000);
    assert_eq!(report.violations[0].parameter, P::PowerOff);
    let report = judged([(0, Edge::DriveLow), (10 * US, Edge::StrongOn), look(30)]);
    assert_eq!(report.seen(P::PowerOn).least_ns, -20_000);
}
