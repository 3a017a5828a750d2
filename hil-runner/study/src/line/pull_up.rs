//! What is known of a pull-up, and resistors that can be bought.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// Where the pull-up of a line comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PullUpSource {
    /// The command states it, or the file of a rig.
    #[serde(rename = "told")]
    Stated,
    /// Not stated: in a plan the one that is advised is taken.
    Unsaid,
    /// The file of the rig says that there is none: a plan takes the one that is advised.
    Missing,
}

/// The series E24, in tenths of its decade (IEC 60063, from memory).
///
/// It is the series of resistors that are off by up to 5 % (IEC 60063, from memory).
const E24: [u32; 24] = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];

/// How far off such a resistor may be.
const TOLERANCE: f64 = 0.05;

/// Those from 100 ohm to 910 kohm that lie between two resistances, both included, however far off they are.
#[must_use]
pub fn bought(least_ohm: f64, most_ohm: f64) -> Vec<u32> {
    let decades = [10, 100, 1_000, 10_000];
    let all = decades.into_iter().flat_map(|decade| E24.map(|value| value * decade));
    let fits =
        |ohm: &u32| f64::from(*ohm) * (1.0 - TOLERANCE) >= least_ohm && f64::from(*ohm) * (1.0 + TOLERANCE) <= most_ohm;
    all.filter(fits).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_value_is_a_tenth_above_the_one_before() {
        // E24 divides a decade into 24 equal ratios of 1.1007, rounded to two digits; within a rounding of 4 %.
        let pairs = E24.iter().zip(E24.iter().skip(1).chain(&[100]));
        for (value, next) in pairs {
            let ratio = f64::from(*next) / f64::from(*value);
            assert!((ratio - 10_f64.powf(1.0 / 24.0)).abs() < 0.06, "{value} {next}");
        }
    }

    /// 750 ohm may be 712.5 ohm, 1 kohm may be 1050 ohm.
    #[test]
    fn a_resistor_fits_with_all_of_its_tolerance() {
        assert_eq!(bought(712.0, 1_050.1), [750, 820, 910, 1_000]);
        assert_eq!(bought(713.0, 1_049.9), [820, 910]);
        assert_eq!(bought(725.0, 765.0), [0; 0]);
    }
}
