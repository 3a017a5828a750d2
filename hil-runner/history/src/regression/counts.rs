//! Whether events have become more frequent.

use statrs::distribution::{DiscreteCDF, Hypergeometric};

use slotwise_past::{Figure, FigureKind};

/// Fewest events of a run that are worth a word. One of anything is an accident. Chosen.
const FEWEST_EVENTS: f64 = 2.0;

/// Events among tries.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Count {
    pub(super) events: f64,
    pub(super) tries: f64,
}

impl Count {
    /// Of a figure: what is bad is counted.
    pub(super) fn of(figure: &Figure) -> Self {
        let tries = figure.of as f64;
        let events = if figure.kind == FigureKind::Found { tries - figure.value } else { figure.value };
        Self { events, tries }
    }

    pub(super) fn sum(counts: &[Self]) -> Self {
        counts.iter().fold(Self::default(), |sum, count| Self {
            events: sum.events + count.events,
            tries: sum.tries + count.tries,
        })
    }
}

/// Chance of at least so many events as now, if they are as frequent as in the past. 1 if there is nothing to compare.
pub(super) fn chance(now: Count, past: &[Count]) -> f64 {
    let before = Count::sum(past);
    if now.events < FEWEST_EVENTS || before.tries < 1.0 {
        return 1.0;
    }
    // Where nights differ more than chance explains, each event says less (quasi-likelihood, McCullagh & Nelder,
    // "Generalized Linear Models", section 4.5, from memory).
    let scatter = scatter(past);
    let whole = |number: f64| number.max(0.0).floor() as u64;
    let events = whole(now.events / scatter);
    let tries = whole((now.tries / scatter).max(events as f64));
    let (events_before, tries_before) = (whole((before.events / scatter).ceil()), whole(before.tries / scatter));
    at_least(events, tries, events_before, tries_before.max(events_before))
}

/// Fisher's exact test, one-sided: with so many events and tries in all, the chance that at least `events` fall among
/// `tries`.
pub(super) fn at_least(events: u64, tries: u64, events_before: u64, tries_before: u64) -> f64 {
    if events == 0 {
        return 1.0;
    }
    let all = tries + tries_before;
    match Hypergeometric::new(all, events + events_before, tries) {
        Ok(distribution) => distribution.sf(events - 1),
        Err(_) => 1.0,
    }
}

/// By how much the past scatters more than chance does: Pearson's chi-square over its degrees of freedom, at least 1.
fn scatter(past: &[Count]) -> f64 {
    let all = Count::sum(past);
    let rate = all.events / all.tries;
    if past.len() < 2 || rate <= 0.0 || rate >= 1.0 {
        return 1.0;
    }
    let chi_square: f64 = past
        .iter()
        .filter(|count| count.tries > 0.0)
        .map(|count| (count.events - count.tries * rate).powi(2) / (count.tries * rate * (1.0 - rate)))
        .sum();
    (chi_square / (past.len() - 1) as f64).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lady tasting tea: R. A. Fisher, "The Design of Experiments", chapter II: all of 4 cups right by chance, 1 in
    /// 70; at least 3 right, 17 in 70.
    #[test]
    fn fishers_exact_test_gives_the_published_value_for_the_tea_tasting_example() {
        assert!((at_least(4, 4, 0, 4) - 1.0 / 70.0).abs() < 1e-12);
        assert!((at_least(3, 4, 1, 4) - 17.0 / 70.0).abs() < 1e-12);
        assert!((at_least(0, 4, 4, 4) - 1.0).abs() < f64::EPSILON);
    }

    #[test]
    fn one_event_is_an_accident() {
        let past = [Count { events: 0.0, tries: 1000.0 }; 20];
        assert!(chance(Count { events: 1.0, tries: 96.0 }, &past) >= 1.0);
        assert!(chance(Count { events: 3.0, tries: 96.0 }, &past) < 1e-6);
    }

    #[test]
    fn nights_that_differ_by_themselves_make_a_night_less_remarkable() {
        let even = [Count { events: 5.0, tries: 100.0 }; 20];
        let uneven: Vec<Count> =
            (0..20).map(|night| Count { events: if night % 4 == 0 { 20.0 } else { 0.0 }, tries: 100.0 }).collect();
        let now = Count { events: 18.0, tries: 100.0 };
        assert!(chance(now, &even) < 1e-4, "{}", chance(now, &even));
        assert!(chance(now, &uneven) > 0.05, "{}", chance(now, &uneven));
    }
}
