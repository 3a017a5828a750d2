//! What a part may be off: the accuracy limits of the datasheets, by range.

use slotwise::thermometer::Family;

/// An accuracy limit of a datasheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AccuracyLimit {
    /// Largest error, of either sign.
    pub millicelsius: u32,
    /// Datasheet, table and range.
    pub source: &'static str,
}

/// Lowest and highest temperature of a range in degrees Celsius, its limit in thousandths, and who says so.
type Row = (i32, i32, u32, &'static str);

/// From the narrowest range to the widest.
const fn rows(part: Family) -> &'static [Row] {
    match part {
        Family::Ds18b20 => &[
            (-10, 85, 500, "DS18B20 datasheet (7/19), DC table: 0.5 degC from -10 to 85 degC"),
            (-30, 100, 1_000, "DS18B20 datasheet (7/19), DC table: 1 degC from -30 to 100 degC"),
            (-55, 125, 2_000, "DS18B20 datasheet (7/19), DC table: 2 degC from -55 to 125 degC"),
        ],
        Family::Ds18s20 => &[
            (-10, 85, 500, "DS18S20 datasheet (23-page edition), DC table: 0.5 degC from -10 to 85 degC"),
            (-55, 125, 2_000, "DS18S20 datasheet (23-page edition), DC table: 2 degC from -55 to 125 degC"),
        ],
        Family::Ds1822 => &[
            (-10, 85, 2_000, "DS1822 datasheet (21 pages), DC table on page 19: 2 degC from -10 to 85 degC"),
            (-55, 125, 3_000, "DS1822 datasheet (21 pages), DC table on page 19: 3 degC from -55 to 125 degC"),
        ],
        Family::Ds1825 => &[
            (-10, 85, 500, "DS1825 datasheet, page 1: 0.5 degC from -10 to 85 degC"),
            (-55, 125, 2_000, "DS1825 datasheet (from memory): 2 degC from -55 to 125 degC"),
        ],
        // Its range ends at 85 degC (DS28EA00 datasheet, page 2).
        Family::Ds28ea00 => &[
            (-10, 85, 500, "DS28EA00 datasheet (from memory): 0.5 degC from -10 to 85 degC"),
            (-40, 85, 2_000, "DS28EA00 datasheet (from memory): 2 degC from -40 to 85 degC"),
        ],
    }
}

/// The accuracy limit of a part at a temperature. `None`: it is not made for that.
#[must_use]
pub fn accuracy_limit(part: Family, millicelsius: i32) -> Option<AccuracyLimit> {
    let holds = |(lowest, highest, ..): &&Row| (lowest * 1_000..=highest * 1_000).contains(&millicelsius);
    let row = rows(part).iter().find(holds);
    row.map(|(_, _, millicelsius, source)| AccuracyLimit { millicelsius: *millicelsius, source })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(part: Family, millicelsius: i32) -> Option<u32> {
        accuracy_limit(part, millicelsius).map(|limit| limit.millicelsius)
    }

    #[test]
    fn limits_are_those_of_the_narrowest_range_that_holds() {
        let ds18b20 = |millicelsius| limit(Family::Ds18b20, millicelsius);
        // DS18B20 datasheet (7/19), DC Electrical Characteristics.
        assert_eq!([0, -10_000, 85_000].map(ds18b20), [Some(500); 3]);
        assert_eq!([85_001, 100_000, -30_000].map(ds18b20), [Some(1_000); 3]);
        assert_eq!([100_001, 125_000, -55_000].map(ds18b20), [Some(2_000); 3]);
        assert_eq!(ds18b20(125_001), None);
        assert_eq!((limit(Family::Ds1822, 0), limit(Family::Ds1822, 99_974)), (Some(2_000), Some(3_000)));
        assert_eq!((limit(Family::Ds18s20, 0), limit(Family::Ds18s20, 99_974)), (Some(500), Some(2_000)));
    }

    #[test]
    fn a_part_that_ends_at_85_degc_is_not_for_steam() {
        assert_eq!(limit(Family::Ds28ea00, 99_974), None);
        assert_eq!(limit(Family::Ds28ea00, 0), Some(500));
    }
}
