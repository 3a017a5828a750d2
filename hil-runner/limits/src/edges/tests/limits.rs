//! Each limit with its time at the limit, just inside and just outside; and whose limit it is.

use Parameter as P;

use super::*;

/// A reset, a write-0 slot, a read slot and a slot under whose end the strong pull-up closes, each time well inside its
/// limits. In nanoseconds.
#[derive(Clone, Copy)]
struct Times {
    reset_low: u64,
    reset_high: u64,
    /// Looks after the release of the reset.
    presence: [u64; 3],
    zero_low: u64,
    zero_high: u64,
    one_low: u64,
    sample: u64,
    one_slot: u64,
    power_on: i64,
    power_off: i64,
}

const TEMPLATE: Times = Times {
    reset_low: 500_000,
    reset_high: 500_000,
    presence: [8_000, 40_000, 90_000],
    zero_low: 70_000,
    zero_high: 20_000,
    one_low: 3_000,
    sample: 12_000,
    one_slot: 80_000,
    power_on: 2_000,
    power_off: 5_000,
};

const START_NS: u64 = 7_000_000;

fn stream(times: Times) -> Vec<(u64, Edge)> {
    let mut events = vec![(START_NS, Edge::DriveLow)];
    let released = START_NS + times.reset_low;
    events.push((released, Edge::Release));
    events.extend(times.presence.map(|after| (released + after, Edge::Look)));
    let zero = released + times.reset_high;
    events.extend([(zero, Edge::DriveLow), (zero + times.zero_low, Edge::Release)]);
    let one = zero + times.zero_low + times.zero_high;
    events.extend([(one, Edge::DriveLow), (one + times.one_low, Edge::Release), (one + times.sample, Edge::Look)]);
    let last = one + times.one_slot;
    let risen = last + 70_000;
    let next = risen + 1_000_000;
    events.extend([
        (last, Edge::DriveLow),
        (risen, Edge::Release),
        (risen.saturating_add_signed(times.power_on), Edge::StrongOn),
        (next.saturating_add_signed(-times.power_off), Edge::StrongOff),
        (next, Edge::DriveLow),
        (next + 500_000, Edge::Release),
    ]);
    events.sort_by_key(|(at_ns, _)| *at_ns);
    events
}

#[test]
fn a_stream_well_inside_its_limits_breaks_none() {
    let report = judged(stream(TEMPLATE));
    assert_eq!((report.violated, report.violations.len()), (0, 0), "{:?}", report.violations);
    for parameter in Parameter::ALL {
        let nearest = report.seen(parameter).nearest;
        // Switch before edge is an order that is kept: there is no nearer and no further.
        assert_eq!(nearest.is_none(), parameter == P::PowerOff, "{parameter:?}");
        assert!(nearest.is_none_or(|nearest| nearest.margin_ns > 0), "{parameter:?}");
    }
}

/// Moves one time to a limit of a part, and one nanosecond to either side of it.
fn bites(part: Family, parameter: P, side: Side, limit_ns: i64, reach: Reach, with: impl Fn(i64) -> Times) {
    let outwards = if side == Side::Least { -1 } else { 1 };
    for (step_ns, permitted) in [(-1, true), (0, reach == Reach::Including), (1, false)] {
        let value_ns = limit_ns + step_ns * outwards;
        let report = judged_for(&[part], stream(with(value_ns)));
        let nearest = report.seen(parameter).nearest.filter(|nearest| nearest.side == side);
        let context = format!("{parameter:?} {value_ns} ns");
        let margin_ns = nearest.map(|nearest| nearest.margin_ns);
        // An order that is kept has no margin.
        let is_order = limit_ns == 0 && permitted;
        assert_eq!(margin_ns, (!is_order).then_some(-step_ns), "{context}");
        assert_eq!(report.of(parameter).violated, u64::from(!permitted), "{context}");
        let violation = report.violations.iter().find(|violation| violation.parameter == parameter);
        assert_eq!(violation.is_some(), !permitted, "{context}");
        if let Some(violation) = violation {
            assert_eq!(
                (violation.value_ns, violation.limit_ns, violation.side),
                (value_ns, limit_ns, side),
                "{context}"
            );
            assert_eq!(Some(violation.at_ns), nearest.map(|nearest| nearest.at_ns), "{context}");
        }
    }
}

/// The limits of the DS18B20 datasheet (7/19), as the reference has them: AC table, Figure 17, Read Time Slots.
#[test]
fn each_limit_of_the_ds18b20_bites_at_its_nanosecond() {
    use Reach::{Excluding, Including};
    use Side::{Least, Most};
    let check = |parameter, side, limit_ns, reach, with: &dyn Fn(u64) -> Times| {
        bites(Family::Ds18b20, parameter, side, limit_ns, reach, |ns| with(ns.unsigned_abs()));
    };
    check(P::ResetLow, Least, 480_000, Including, &|ns| Times { reset_low: ns, ..TEMPLATE });
    check(P::ResetLow, Most, 960_000, Including, &|ns| Times { reset_low: ns, ..TEMPLATE });
    check(P::ResetHigh, Least, 480_000, Including, &|ns| Times { reset_high: ns, ..TEMPLATE });
    check(P::WriteZeroLow, Least, 60_000, Including, &|ns| Times { zero_low: ns, ..TEMPLATE });
    check(P::WriteZeroLow, Most, 120_000, Including, &|ns| Times { zero_low: ns, ..TEMPLATE });
    check(P::WriteOneLow, Least, 1_000, Including, &|ns| Times { one_low: ns, ..TEMPLATE });
    let late = Times { sample: 30_000, ..TEMPLATE };
    check(P::WriteOneLow, Most, 15_000, Including, &|ns| Times { one_low: ns, ..late });
    check(P::ReadStart, Least, 1_000, Excluding, &|ns| Times { one_low: ns, ..TEMPLATE });
    check(P::ReadSample, Most, 15_000, Excluding, &|ns| Times { sample: ns, ..TEMPLATE });
    check(P::Slot, Least, 61_000, Including, &|ns| Times { one_slot: ns, ..TEMPLATE });
    check(P::Recovery, Least, 1_000, Including, &|ns| Times { zero_high: ns, ..TEMPLATE });
    check(P::PowerOn, Most, 10_000, Including, &|ns| Times { power_on: ns as i64, ..TEMPLATE });
    // One look: from the latest beginning of a pulse, 60 us, to the earliest end, 15 us + 60 us.
    let looks = |ns| Times { presence: [8_000, 9_000, ns], ..TEMPLATE };
    check(P::PresenceLast, Least, 60_000, Including, &looks);
    check(P::PresenceGap, Most, 60_000, Including, &|ns| looks(15_000 + ns));
    // Two looks: a pulse that begins right after the first is over 60 us later.
    check(P::PresenceGap, Most, 60_000, Including, &|ns| Times { presence: [8_000, 20_000, 20_000 + ns], ..TEMPLATE });
}

#[test]
fn a_switch_that_works_against_the_pin_is_a_violation() {
    let with_on = |ns| Times { power_on: ns, ..TEMPLATE };
    bites(Family::Ds18b20, P::PowerOn, Side::Least, 0, Reach::Including, with_on);
    let with_off = |ns| Times { power_off: ns, ..TEMPLATE };
    bites(Family::Ds18b20, P::PowerOff, Side::Least, 0, Reach::Including, with_off);
}

/// DS28EA00 datasheet, electrical table: tRSTL 480 to 640 us, tSLOT 65 us, tREC 5 us.
#[test]
fn the_ds28ea00_asks_for_more() {
    let part = Family::Ds28ea00;
    let reach = Reach::Including;
    let with_reset = |ns: i64| Times { reset_low: ns.unsigned_abs(), ..TEMPLATE };
    bites(part, P::ResetLow, Side::Most, 640_000, reach, with_reset);
    let with_slot = |ns: i64| Times { one_slot: ns.unsigned_abs(), ..TEMPLATE };
    bites(part, P::Slot, Side::Least, 65_000, reach, with_slot);
    let with_recovery = |ns: i64| Times { zero_high: ns.unsigned_abs(), ..TEMPLATE };
    bites(part, P::Recovery, Side::Least, 5_000, reach, with_recovery);
}

#[test]
fn of_several_parts_the_strictest_is_named() {
    let bound = |families: &[Family], parameter, side| {
        let window = Limits::for_families(families).of(parameter).clone();
        let bound = if side == Side::Least { window.least } else { window.most }.unwrap();
        (bound.ns, bound.part, bound.basis)
    };
    let mixed = [Family::Ds18s20, Family::Ds28ea00, Family::Ds18b20];
    assert_eq!(bound(&mixed, P::Slot, Side::Least), (65_000, Family::Ds28ea00, Basis::OwnDatasheet));
    assert_eq!(bound(&mixed, P::ResetLow, Side::Most), (640_000, Family::Ds28ea00, Basis::OwnDatasheet));
    // The same in all: the one whose datasheet was seen.
    assert_eq!(bound(&mixed, P::ResetLow, Side::Least), (480_000, Family::Ds18b20, Basis::OwnDatasheet));
    assert_eq!(bound(&mixed, P::ReadSample, Side::Most), (15_000, Family::Ds18b20, Basis::OwnDatasheet));
    let old = [Family::Ds1822, Family::Ds18s20];
    assert_eq!(bound(&old, P::Slot, Side::Least), (61_000, Family::Ds1822, Basis::AsDs18b20));
    assert_eq!(Limits::for_families(&[]), Limits::for_families(&[Family::Ds18b20]));
}

#[test]
fn every_limit_has_a_source() {
    for part in [Family::Ds18b20, Family::Ds18s20, Family::Ds1822, Family::Ds1825, Family::Ds28ea00] {
        for parameter in Parameter::ALL {
            let Window { least, most } = Limits::for_families(&[part]).of(parameter).clone();
            let bounds: Vec<Limit> = least.into_iter().chain(most).collect();
            assert!(!bounds.is_empty(), "{part:?} {parameter:?}");
            assert!(
                bounds.iter().all(|bound| !bound.source.is_empty() && bound.part == part),
                "{part:?} {parameter:?}"
            );
        }
    }
}
