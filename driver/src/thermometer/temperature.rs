//! Temperature as the sensors count it: whole sixteenths of a degree Celsius.

use core::fmt;

/// A temperature in 1/16 degC, the weight of the lowest bit at 12 bits (DS18B20 datasheet (7/19), Figure 4).
///
/// Prints exactly, without a unit: `25.0625`, `-0.5`, `85`. With a precision it has that many places: `{:.6}` adds zeros, `{:.1}`
/// rounds half away from zero (so does [`millicelsius`](Self::millicelsius)), and what rounds to zero has no minus. Width, fill,
/// alignment, `+` and `0` are those of any number. In logs (feature `defmt`) it is `25.0625 degC`, with four places always.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
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

/// Decimals that a sixteenth needs.
const PLACES: usize = 4;

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ten_thousandths = u32::from(self.sixteenths.unsigned_abs()) * 625;
        let (digits, places, zeros) = match f.precision() {
            Some(places) if places < PLACES => {
                let unit = 10_u32.pow((PLACES - places) as u32);
                ((ten_thousandths + unit / 2) / unit, places, 0)
            }
            Some(places) => (ten_thousandths, PLACES, places - PLACES),
            None => {
                let (mut digits, mut places) = (ten_thousandths, PLACES);
                while places > 0 && digits % 10 == 0 {
                    digits /= 10;
                    places -= 1;
                }
                (digits, places, 0)
            }
        };
        let mut text = heapless::String::<16>::new();
        let unit = 10_u32.pow(places as u32);
        if places == 0 {
            fmt::write(&mut text, format_args!("{digits}"))?;
        } else {
            fmt::write(&mut text, format_args!("{}.{:0places$}", digits / unit, digits % unit))?;
        }
        let sign = match (self.sixteenths < 0 && digits != 0, f.sign_plus()) {
            (true, _) => "-",
            (false, true) => "+",
            (false, false) => "",
        };
        lay_out(f, sign, &text, zeros)
    }
}

/// Writes a number with the width, fill and alignment that `f` has, and `zeros` behind it. The formatter can do this by itself
/// only for a text that lies in memory as a whole.
fn lay_out(f: &mut fmt::Formatter<'_>, sign: &str, text: &str, zeros: usize) -> fmt::Result {
    let length = sign.len() + text.len() + zeros;
    let padding = f.width().map_or(0, |width| width.saturating_sub(length));
    let (fill, left, inner, right) = match f.align() {
        _ if f.sign_aware_zero_pad() => ('0', 0, padding, 0),
        Some(fmt::Alignment::Left) => (f.fill(), 0, 0, padding),
        Some(fmt::Alignment::Center) => (f.fill(), padding / 2, 0, padding.div_ceil(2)),
        Some(fmt::Alignment::Right) | None => (f.fill(), padding, 0, 0),
    };
    repeat(f, fill, left)?;
    f.write_str(sign)?;
    repeat(f, fill, inner)?;
    f.write_str(text)?;
    repeat(f, '0', zeros)?;
    repeat(f, fill, right)
}

fn repeat(f: &mut fmt::Formatter<'_>, character: char, times: usize) -> fmt::Result {
    (0..times).try_for_each(|_| fmt::Write::write_char(f, character))
}

#[cfg(feature = "defmt")]
impl defmt::Format for Temperature {
    fn format(&self, f: defmt::Formatter<'_>) {
        let magnitude = self.sixteenths.unsigned_abs();
        let sign = if self.sixteenths < 0 { "-" } else { "" };
        // The product is below 16 x 625.
        defmt::write!(f, "{=str}{=u16}.{=u16:04} degC", sign, magnitude / 16, magnitude % 16 * 625);
    }
}
