//! The steam point: the temperature at which water boils under the pressure of the place and the hour.
//!
//! IAPWS R7-97(2012), the Industrial Formulation 1997 (IAPWS-IF97), section 8, region 4: the backward equation for the
//! saturation temperature, equation (31), with the coefficients of its Table 34. The coefficients are from memory; the
//! verification values of its Table 36 come out, which a wrong digit would spoil. It is in ITS-90.

/// Coefficients n1 to n10 (IAPWS R7-97(2012), Table 34).
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// Zero degrees Celsius in kelvin (ITS-90, section 1).
const ZERO_CELSIUS_KELVIN: f64 = 273.15;

/// Temperature of saturated steam, in kelvin, at a pressure in megapascals: from 611.213 Pa to 22.064 MPa.
fn saturation_kelvin(megapascals: f64) -> f64 {
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let beta = megapascals.powf(0.25);
    let squared = beta * beta;
    let e = squared + n3 * beta + n6;
    let f = n1 * squared + n4 * beta + n7;
    let g = n2 * squared + n5 * beta + n8;
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let sum = n10 + d;
    (sum - (sum * sum - 4.0 * (n9 + n10 * d)).sqrt()) / 2.0
}

/// Temperature of saturated steam at a pressure, in thousandths of a degree Celsius.
#[must_use]
pub fn saturation_millicelsius(pascals: u32) -> i32 {
    // Of any pressure in the range of the equation: far inside 32 bits.
    ((saturation_kelvin(f64::from(pascals) / 1e6) - ZERO_CELSIUS_KELVIN) * 1e3).round() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_verification_values_come_out() {
        // IAPWS R7-97(2012), Table 36.
        for (megapascals, kelvin) in [(0.1, 372.755_919), (1.0, 453.035_632), (10.0, 584.149_488)] {
            let computed = saturation_kelvin(megapascals);
            // To the last digit that is printed: 1e9 times less than the value.
            assert!((computed - kelvin).abs() < 6e-7, "{megapascals} MPa: {computed}");
        }
    }

    #[test]
    fn points_of_the_steam_tables_come_out() {
        // 101 325 Pa: 99.974 degC (IAPWS-IF97; in ITS-90 water no longer boils at 100 degC). The others: boiling
        // temperatures by IF97 region 4, computed elsewhere, in hectopascals.
        for (hectopascals, millicelsius) in [
            (1_040, 100_706),
            (1_020, 100_160),
            (1_010, 99_884),
            (1_000, 99_606),
            (980, 99_042),
            (950, 98_178),
            (850, 95_125),
            (700, 89_932),
        ] {
            assert_eq!(saturation_millicelsius(hectopascals * 100), millicelsius, "{hectopascals} hPa");
        }
        assert_eq!(saturation_millicelsius(101_325), 99_974);
    }

    #[test]
    fn an_older_equation_agrees_to_a_few_hundredths() {
        // Antoine equation, log10(p/bar) = A - B/(T/K + C), A 5.08354, B 1663.125, C -45.622, for 344 to 373 K (NIST Chemistry
        // WebBook, SRD 69, after Bridgeman and Aldrich 1964). It was fitted on an older scale, some 0.025 degC above ITS-90.
        for hectopascals in (600..=1_000).step_by(50) {
            let bar = f64::from(hectopascals) / 1e3;
            let kelvin = 1_663.125 / (5.083_54 - bar.log10()) + 45.622;
            let off = kelvin - saturation_kelvin(bar / 10.0);
            assert!((0.0..0.04).contains(&off), "{hectopascals} hPa: {off}");
        }
    }

    #[test]
    fn a_hectopascal_is_28_thousandths_of_a_degree() {
        // Slope of the saturation curve near 1013 hPa: 0.0277 degC per hPa.
        assert!((27..=29).contains(&(saturation_millicelsius(101_375) - saturation_millicelsius(101_275))));
    }
}
