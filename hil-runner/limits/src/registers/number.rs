//! The number that the datasheets give for the bytes received.

use slotwise::thermometer::Family;
use slotwise_golden::Conversions;

use super::{Registers, Unsound};

/// The number that belongs to bytes, and who says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Truth {
    /// Sixteenths of a degree Celsius.
    pub sixteenths: i32,
    /// Who says so.
    pub source: Source,
}

/// Where an expected number comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A row of a published table.
    Row {
        /// Datasheet and table.
        text: String,
    },
    /// The weights of the bits, as a figure of the datasheet draws them.
    BitWeights {
        /// Datasheet and figure.
        text: &'static str,
    },
    /// An equation of the datasheet.
    Equation {
        /// Datasheet and section.
        text: &'static str,
    },
}

impl Source {
    /// Datasheet and place, for a report.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            Self::Row { text } => text,
            Self::BitWeights { text } | Self::Equation { text } => text,
        }
    }
}

impl Truth {
    /// What nine bytes of this part hold, and the number that belongs to them.
    ///
    /// # Errors
    /// [`Unsound`] if they cannot be what such a sensor sends.
    pub fn of_bytes(part: Family, bytes: [u8; 9], conversions: &Conversions) -> Result<(Registers, Self), Unsound> {
        let registers = Registers::inspect(part, bytes)?;
        let truth = Self::of(&registers, conversions);
        Ok((registers, truth))
    }

    /// The number that belongs to these registers.
    #[must_use]
    pub fn of(registers: &Registers, conversions: &Conversions) -> Self {
        let computed = Self::computed(registers);
        let defined = registers.raw() & !registers.undefined_bits();
        let family = registers.part.code().0;
        let row = conversions.published_celsius(family, defined).and_then(|row| {
            let sixteenths = row.ten_thousandths().ok()? * 16 / 10_000;
            // What is published of a DS18S20 is the register alone; the counters refine it by up to a step.
            let refined = registers.part == Family::Ds18s20 && sixteenths != computed.sixteenths;
            (!refined).then(|| Self { sixteenths, source: Source::Row { text: cited(&row.source) } })
        });
        row.unwrap_or(computed)
    }

    /// The number by the weights of the bits, or by the equation of the datasheet.
    #[must_use]
    pub fn computed(registers: &Registers) -> Self {
        match registers.part {
            Family::Ds18s20 => Self {
                sixteenths: refined_half_degrees(registers),
                source: Source::Equation { text: "DS18S20 datasheet, Measuring Temperature, extended resolution" },
            },
            Family::Ds1825 => Self {
                sixteenths: weigh(registers.raw() & !registers.undefined_bits(), 11, 1),
                source: Source::BitWeights { text: "bit weights of the DS18B20 datasheet (7/19) Figure 4" },
            },
            Family::Ds1822 | Family::Ds18b20 | Family::Ds28ea00 => Self {
                sixteenths: weigh(registers.raw() & !registers.undefined_bits(), 11, 1),
                source: Source::BitWeights { text: "bit weights, DS18B20 datasheet (7/19) Figure 4" },
            },
        }
    }
}

/// The source of a row without remarks on how it was checked.
fn cited(source: &str) -> String {
    source.split(';').next().unwrap_or(source).trim().to_owned()
}

/// The sum of the weights of the bits that are set: bit 0 weighs `unit` sixteenths, each further bit twice as much, and
/// the sign bit counts against them.
fn weigh(raw: u16, sign_bit: u32, unit: i32) -> i32 {
    let magnitude: i32 = (0..sign_bit).filter(|bit| raw >> bit & 1 == 1).map(|bit| unit << bit).sum();
    let sign = if raw >> sign_bit & 1 == 1 { unit << sign_bit } else { 0 };
    magnitude - sign
}

/// T = TEMP_READ - 0.25 + (COUNT_PER_C - COUNT_REMAIN) / COUNT_PER_C, TEMP_READ with its half degree dropped (DS18S20
/// datasheet, Measuring Temperature). Bit 0 weighs half a degree (its Figure 2).
fn refined_half_degrees(registers: &Registers) -> i32 {
    let temp_read = weigh(registers.raw() & !1, 8, 8);
    let count_remain = i32::from(registers.bytes[6]);
    temp_read - 4 + (16 - count_remain)
}

#[cfg(test)]
mod tests {
    use slotwise_golden::table;

    use super::*;
    use crate::registers::check_byte::residue;

    fn registers(part: Family, first_eight: &[u8]) -> Registers {
        let mut bytes = [0; 9];
        bytes[..8].copy_from_slice(first_eight);
        bytes[8] = residue(first_eight);
        Registers::inspect(part, bytes).unwrap()
    }

    fn with_raw(raw: u16, configuration: u8) -> Registers {
        let [low, high] = raw.to_le_bytes();
        registers(Family::Ds18b20, &[low, high, 0x4B, 0x46, configuration, 0xFF, 0x0C, 0x10])
    }

    fn ten_thousandths(truth: &Truth) -> i32 {
        truth.sixteenths * 625
    }

    #[test]
    fn bit_weights_give_every_published_and_every_computed_row() {
        let conversions = Conversions::embedded().unwrap();
        let mut seen = 0;
        for row in conversions.of(table::DS18B20_RAW16_12BIT) {
            let truth = Truth::computed(&with_raw(row.given_raw16().unwrap(), 0x7F));
            assert_eq!(Ok(ten_thousandths(&truth)), row.ten_thousandths(), "{row:?}");
            seen += 1;
        }
        for (bits, name) in table::DS18B20_RAW16_MASKED {
            for row in conversions.of(name) {
                let truth = Truth::computed(&with_raw(row.given_raw16().unwrap(), 0x1F | (bits - 9) << 5));
                assert_eq!(Ok(ten_thousandths(&truth)), row.ten_thousandths(), "{row:?}");
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen} rows");
    }

    #[test]
    fn the_equation_gives_every_row_about_extended_resolution() {
        let conversions = Conversions::embedded().unwrap();
        let mut seen = 0;
        for row in conversions.of(table::DS18S20_SCRATCH8_EXTENDED) {
            let truth = Truth::computed(&registers(Family::Ds18s20, &row.given_bytes().unwrap()));
            assert_eq!(Ok(ten_thousandths(&truth)), row.ten_thousandths(), "{row:?}");
            seen += 1;
        }
        assert!(seen > 5, "{seen} rows");
    }

    #[test]
    fn a_published_point_is_cited_by_its_table_and_any_other_by_its_figure() {
        let conversions = Conversions::embedded().unwrap();
        let published = Truth::of(&with_raw(0x0191, 0x7F), &conversions);
        assert_eq!(published.sixteenths, 401);
        assert_eq!(published.source.text(), "DS18B20 datasheet (7/19) Table 1");
        let between = Truth::of(&with_raw(0x0192, 0x7F), &conversions);
        assert_eq!(between.sixteenths, 402);
        assert_eq!(between.source.text(), "bit weights, DS18B20 datasheet (7/19) Figure 4");
    }

    #[test]
    fn undefined_bits_do_not_count() {
        let conversions = Conversions::embedded().unwrap();
        let truth = Truth::of(&with_raw(0x000F, 0x1F), &conversions);
        assert_eq!(truth.sixteenths, 8);
        assert_eq!(truth.source.text(), "DS18B20 datasheet (7/19) Table 1");
    }

    #[test]
    fn a_refined_half_degree_is_not_cited_as_published() {
        let conversions = Conversions::embedded().unwrap();
        let exact = registers(Family::Ds18s20, &[0x32, 0, 0x4B, 0x46, 0xFF, 0xFF, 0x0C, 0x10]);
        assert_eq!(Truth::of(&exact, &conversions).source.text(), "DS18S20 datasheet (23-page edition) Table 1");
        let refined = registers(Family::Ds18s20, &[0x32, 0, 0x4B, 0x46, 0xFF, 0xFF, 0x0A, 0x10]);
        let truth = Truth::of(&refined, &conversions);
        assert_eq!(truth.sixteenths, 402);
        assert!(matches!(truth.source, Source::Equation { .. }));
    }
}
