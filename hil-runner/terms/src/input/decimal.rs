//! Decimal numbers, exactly: digits and a point, no floats.

/// Most digits of a number, all together: more than any quantity has, and all of them fit an `i64`.
const MAX_DIGITS: usize = 15;

/// `mantissa / 10^places`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Decimal {
    mantissa: i64,
    places: u32,
}

/// Why a text does not begin with a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DecimalError {
    /// No digit where one belongs.
    NoNumber,
    /// More than [`MAX_DIGITS`].
    TooManyDigits,
    /// A comma where a point belongs.
    Comma,
    /// `1e6`.
    Exponent,
}

impl Decimal {
    /// The number at the beginning of a text, and what follows it.
    pub fn split(text: &str) -> Result<(Self, &str), DecimalError> {
        let (sign, unsigned) = match text.strip_prefix(['-', '−']) {
            Some(rest) => (-1, rest),
            None => (1, text.strip_prefix('+').unwrap_or(text)),
        };
        let (whole, rest) = digits(unsigned);
        let (fraction, rest) = match rest.strip_prefix('.') {
            Some(after) => digits(after),
            None => ("", rest),
        };
        let is_bare_point =
            fraction.is_empty() && unsigned.get(whole.len()..).is_some_and(|rest| rest.starts_with('.'));
        if whole.is_empty() || is_bare_point {
            return Err(DecimalError::NoNumber);
        }
        let followed_by_digit = |mark: char| {
            rest.strip_prefix(mark).is_some_and(|rest| rest.starts_with(|next: char| next.is_ascii_digit()))
        };
        if followed_by_digit(',') {
            return Err(DecimalError::Comma);
        }
        if rest.starts_with(['e', 'E']) && !digits(rest[1..].trim_start_matches(['+', '-'])).0.is_empty() {
            return Err(DecimalError::Exponent);
        }
        if whole.len() + fraction.len() > MAX_DIGITS {
            return Err(DecimalError::TooManyDigits);
        }
        let magnitude: i64 = format!("{whole}{fraction}").parse().map_err(|_| DecimalError::TooManyDigits)?;
        Ok((Self { mantissa: sign * magnitude, places: fraction.len() as u32 }, rest))
    }

    /// How many decimals were written.
    pub const fn places(self) -> u32 {
        self.places
    }

    /// This many times `numerator / denominator`, as a whole number and the rest: `rest / divisor` is missing.
    pub(crate) fn scaled(self, numerator: u64, denominator: u64) -> Scaled {
        // At most 15 digits times 20 digits, that is below 10^35: inside 128 bits, and so is the divisor.
        let product = i128::from(self.mantissa) * i128::from(numerator);
        let divisor = 10_i128.pow(self.places) * i128::from(denominator);
        Scaled { whole: product / divisor, rest: product % divisor, divisor }
    }
}

/// A number in smaller units, split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Scaled {
    whole: i128,
    rest: i128,
    divisor: i128,
}

impl Scaled {
    /// The number, if it is whole.
    pub const fn exact(self) -> Option<i128> {
        if self.rest == 0 { Some(self.whole) } else { None }
    }

    /// The nearest whole number, halves away from zero.
    pub(crate) const fn rounded(self) -> i128 {
        if 2 * self.rest.abs() >= self.divisor { self.whole + self.rest.signum() } else { self.whole }
    }
}

fn digits(text: &str) -> (&str, &str) {
    text.split_at(text.bytes().take_while(u8::is_ascii_digit).count())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(text: &str) -> (i64, u32, &str) {
        let (Decimal { mantissa, places }, rest) = Decimal::split(text).unwrap();
        (mantissa, places, rest)
    }

    #[test]
    fn reads_digits_and_one_point() {
        assert_eq!(split("3.3 V"), (33, 1, " V"));
        assert_eq!(split("-25.0625degC"), (-250_625, 4, "degC"));
        assert_eq!(split("+007"), (7, 0, ""));
        assert_eq!(split("0.50"), (50, 2, ""));
        assert_eq!(split("1.2.3"), (12, 1, ".3"));
    }

    #[test]
    fn refuses_what_is_no_plain_number() {
        for text in ["", "V", ".5 V", "5. V", "- 5", "--5", "∞"] {
            assert_eq!(Decimal::split(text), Err(DecimalError::NoNumber), "{text}");
        }
        assert_eq!(Decimal::split("3,3 V"), Err(DecimalError::Comma));
        assert_eq!(Decimal::split("1e12 ohm"), Err(DecimalError::Exponent));
        assert_eq!(Decimal::split("1E-3 m"), Err(DecimalError::Exponent));
        assert_eq!(Decimal::split("1234567890123456 s"), Err(DecimalError::TooManyDigits));
    }

    #[test]
    fn rounds_halves_away_from_zero_and_tells_what_is_whole() {
        let scaled = |text: &str| Decimal::split(text).unwrap().0.scaled(1_000, 1);
        assert_eq!(scaled("25.0625").exact(), None);
        assert_eq!(scaled("25.0625").rounded(), 25_063);
        assert_eq!(scaled("-25.0625").rounded(), -25_063);
        assert_eq!(scaled("0.0004").rounded(), 0);
        assert_eq!(scaled("-10.125").exact(), Some(-10_125));
    }
}
