//! Curves with more points than a picture has columns: of each column the least and the most stay.

/// Columns of a picture that can be distinguished.
const COLUMNS: usize = 360;

/// A curve of at most two points for each column. Its points come in the order of x.
pub(crate) fn thin(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    if points.len() <= 2 * COLUMNS {
        return points.to_vec();
    }
    let each = points.len().div_ceil(COLUMNS);
    points.chunks(each).flat_map(ends).collect()
}

/// The least and the most of some points, in their order.
fn ends(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let by = |one: &&(f64, f64), two: &&(f64, f64)| one.1.total_cmp(&two.1);
    let (least, most) = (points.iter().min_by(by), points.iter().max_by(by));
    let mut ends: Vec<(f64, f64)> = least.into_iter().chain(most).copied().collect();
    ends.sort_by(|one, two| one.0.total_cmp(&two.0));
    ends.dedup();
    ends
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_is_never_thinned_away() {
        let mut points: Vec<(f64, f64)> = (0..100_000).map(|x| (f64::from(x), 20.0)).collect();
        points[77_777].1 = 85.0;
        points[12].1 = -55.0;
        let thinned = thin(&points);
        assert!(thinned.len() <= 2 * COLUMNS, "{}", thinned.len());
        assert!(thinned.contains(&(77_777.0, 85.0)) && thinned.contains(&(12.0, -55.0)));
        assert!(thinned.is_sorted_by(|one, two| one.0 <= two.0));
    }

    #[test]
    fn few_points_stay_as_they_are() {
        let points = [(0.0, 1.0), (1.0, 2.0)];
        assert_eq!(thin(&points), points);
    }
}
