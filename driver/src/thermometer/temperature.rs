//! Temperature as the sensors count it: whole sixteenths of a degree Celsius.

use core::fmt;

/// A temperature in 1/16 degC, the weight of the lowest bit at 12 bits (DS18B20 datasheet (7/19), Figure 4).
///
/// Prints exactly, without a unit: `25.0625`, `-0.5`, `85`. With a precision (`{:.2}`) it is rounded half away from zero
/// and padded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub struct Temperature {
    sixteenths: i16,
}

impl Temperature {
    /// From a count of sixteenths of a degree Celsius.
    #[must_use]
    pub const fn from_sixteenths(sixteenths: i16) -> Self {
        Self { sixteenths }
    }

    /// As a count of sixteenths of a degree Celsius.
    #[must_use]
    pub const fn sixteenths(self) -> i16 {
        self.sixteenths
    }

    /// In thousandths of a degree Celsius, rounded half away from zero.
    #[must_use]
    pub const fn millicelsius(self) -> i32 {
        let eighths = self.sixteenths as i32 * 125;
        (eighths + eighths.signum()) / 2
    }

    /// In degrees Celsius. Exact: an `f32` holds every sixteenth of this range.
    #[must_use]
    pub fn celsius(self) -> f32 {
        f32::from(self.sixteenths) / 16.0
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const PLACES: usize = 4;
        let magnitude = u32::from(self.sixteenths.unsigned_abs());
        let ten_thousandths = magnitude * 625;
        let (digits, places) = match f.precision() {
            Some(places) if places < PLACES => {
                let unit = 10_u32.pow((PLACES - places) as u32);
                ((ten_thousandths + unit / 2) / unit, places)
            }
            Some(_) => (ten_thousandths, PLACES),
            None => {
                let (mut digits, mut places) = (ten_thousandths, PLACES);
                while places > 0 && digits % 10 == 0 {
                    digits /= 10;
                    places -= 1;
                }
                (digits, places)
            }
        };
        // Sign, width and fill are the formatter's; it must not see the precision, which would cut the text.
        let mut text = heapless::String::<16>::new();
        let unit = 10_u32.pow(places as u32);
        if places == 0 {
            fmt::write(&mut text, format_args!("{digits}"))?;
        } else {
            fmt::write(&mut text, format_args!("{}.{:0places$}", digits / unit, digits % unit))?;
        }
        f.pad_integral(self.sixteenths >= 0 || digits == 0, "", &text)
    }
}
