//! Streams that no master makes: the judge neither panics nor loses anything.

use proptest::prelude::*;

use super::*;

fn edges() -> impl Strategy<Value = Edge> {
    prop_oneof![
        Just(Edge::DriveLow),
        Just(Edge::Release),
        Just(Edge::Look),
        Just(Edge::StrongOn),
        Just(Edge::StrongOff),
    ]
}

/// Moments anywhere, also at the end of time and not in order.
fn any_stream() -> impl Strategy<Value = Vec<(u64, Edge)>> {
    let moment = prop_oneof![any::<u64>(), 0..2_000_000_u64, Just(u64::MAX), Just(0)];
    prop::collection::vec((moment, edges()), 0..200)
}

/// Moments in order, with steps of the lengths that matter.
fn ordered_stream() -> impl Strategy<Value = Vec<(u64, Edge)>> {
    let step = prop_oneof![0..20_000_u64, 0..130_000_u64, 400_000..1_000_000_u64];
    prop::collection::vec((step, edges()), 0..300).prop_map(|steps| {
        let mut now_ns = 0;
        steps
            .into_iter()
            .map(|(step_ns, edge)| {
                now_ns += step_ns;
                (now_ns, edge)
            })
            .collect()
    })
}

/// Every event is found in one of the counts: falling edges by the pulse that they begin.
fn nothing_is_lost(events: &[(u64, Edge)], report: &EdgeReport) -> Result<(), TestCaseError> {
    let number = |edge| events.iter().filter(|(_, found)| *found == edge).count() as u64;
    let Looks { samples, rise_checks, presence, idle, powered } = report.looks;
    let looks = samples + rise_checks + presence + idle + powered + report.unclear.looks_while_low;
    prop_assert_eq!(looks, number(Edge::Look));
    let Pulses { resets, zeros, ones } = report.pulses;
    let pulses = resets + zeros + ones;
    prop_assert!(pulses <= number(Edge::DriveLow) && pulses <= number(Edge::Release));
    let without = report.unclear.without_beginning + report.unclear.repeated;
    prop_assert!(number(Edge::Release) <= pulses + without);
    prop_assert!(number(Edge::DriveLow) <= pulses + report.unclear.repeated + report.unclear.unfinished);
    Ok(())
}

/// Counts, margins and violations in a report agree with each other.
fn is_consistent(report: &EdgeReport) -> Result<(), TestCaseError> {
    let violated: u64 = report.parameters.iter().map(|parameter| parameter.violated).sum();
    prop_assert_eq!(violated, report.violated);
    prop_assert_eq!(report.violations.len() as u64, violated.min(VIOLATIONS_KEPT as u64));
    for ParameterReport { parameter, seen, violated, .. } in &report.parameters {
        let Some(seen) = seen else {
            prop_assert_eq!(*violated, 0);
            continue;
        };
        prop_assert!(seen.count >= *violated && seen.least_ns <= seen.most_ns);
        let margin_ns = seen.nearest.map(|nearest| nearest.margin_ns);
        prop_assert!(*violated == 0 || margin_ns.is_some_and(|margin_ns| margin_ns <= 0), "{:?}", parameter);
        prop_assert!(*violated > 0 || margin_ns.is_none_or(|margin_ns| margin_ns >= 0), "{:?}", parameter);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_stream_breaks_the_judge(events in any_stream()) {
        let report = judged(events.iter().copied());
        nothing_is_lost(&events, &report)?;
        is_consistent(&report)?;
    }

    #[test]
    fn no_ordered_stream_loses_an_event(events in ordered_stream()) {
        let report = judged(events.iter().copied());
        prop_assert_eq!(report.unclear.out_of_order, 0);
        nothing_is_lost(&events, &report)?;
        is_consistent(&report)?;
    }
}
