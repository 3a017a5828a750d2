//! Quantities with units, from text to whole numbers of the smallest unit and back.

use super::decimal::{Decimal, DecimalError};
use super::dimension::{Beyond, Dimension, Unit};
use super::words::{nearest, quoted};

/// A kind of quantity and its limits, both included, in its smallest unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Range {
    /// What it is.
    pub dimension: Dimension,
    /// Smallest.
    pub min: i64,
    /// Largest.
    pub max: i64,
    /// The steps it comes in.
    pub step: i64,
}

/// Why a text is not the quantity that belongs there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// What belongs there.
    pub expected: String,
    /// What stands there.
    pub found: String,
    /// What may help.
    pub hint: Option<String>,
}

/// Units as people write them who have not met the ones used here.
const MEANT: [(&str, &str); 26] = [
    ("C", "degC"),
    ("°", "degC"),
    ("deg", "degC"),
    ("celsius", "degC"),
    ("R", "ohm"),
    ("k", "kohm"),
    ("kR", "kohm"),
    ("ohms", "ohm"),
    ("volt", "V"),
    ("volts", "V"),
    ("meter", "m"),
    ("metre", "m"),
    ("metres", "m"),
    ("sec", "s"),
    ("seconds", "s"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hours", "h"),
    ("day", "d"),
    ("days", "d"),
    ("percent", "%"),
    ("per second", "/s"),
    ("C/min", "degC/min"),
    ("degC/minute", "degC/min"),
    ("C/s", "degC/s"),
    ("mA", "mAh"),
];

/// Zero kelvin.
const ABSOLUTE_ZERO_MILLICELSIUS: i128 = -273_150;

impl Range {
    /// From `min` to `max`, in any whole number of the smallest unit.
    pub const fn new(dimension: Dimension, min: i64, max: i64) -> Self {
        Self { dimension, min, max, step: 1 }
    }

    /// The same, in steps of so many of the smallest unit.
    pub const fn in_steps_of(self, step: i64) -> Self {
        Self { step, ..self }
    }

    /// Its limits, for people.
    pub fn limits(self) -> String {
        format!("{} to {}", shown(self.dimension, self.min), shown(self.dimension, self.max))
    }

    /// Reads a quantity.
    pub fn read(self, text: &str) -> Result<i64, Refusal> {
        let trimmed = text.trim();
        let (number, rest) = Decimal::split(trimmed).map_err(|error| self.refuse_number(error, text))?;
        let symbol = rest.trim_start();
        let unit = self.dimension.unit(symbol).ok_or_else(|| self.refuse_unit(symbol, text))?;
        let scaled = number.scaled(unit.numerator, unit.denominator);
        let amount = match (scaled.exact(), self.dimension.beyond()) {
            (Some(exact), _) => exact,
            (None, Beyond::RoundedUpTo(places)) if number.places() <= places && unit.numerator > 1 => scaled.rounded(),
            (None, _) => return Err(self.refuse_digits(unit, text)),
        };
        let within = i64::try_from(amount).ok().filter(|amount| (self.min..=self.max).contains(amount));
        let amount = within.ok_or_else(|| self.refuse_amount(amount, text))?;
        if amount % self.step == 0 { Ok(amount) } else { Err(self.refuse_step(text)) }
    }

    /// What belongs there, with an example.
    pub fn expected(self) -> String {
        format!("{} such as \"{}\"", self.dimension.name(), self.example())
    }

    /// One that is inside the limits, the usual one if it is.
    pub fn example(self) -> String {
        let usual = self.dimension.example();
        let fits = Decimal::split(usual).ok().is_some_and(|(number, rest)| {
            let amount = self.dimension.unit(rest.trim()).and_then(|unit| {
                number.scaled(unit.numerator, unit.denominator).exact().and_then(|amount| i64::try_from(amount).ok())
            });
            amount.is_some_and(|amount| (self.min..=self.max).contains(&amount) && amount % self.step == 0)
        });
        if fits { usual.to_owned() } else { shown(self.dimension, self.max) }
    }

    fn refuse(self, found: String, hint: Option<String>) -> Refusal {
        Refusal { expected: self.expected(), found, hint }
    }

    fn refuse_number(self, error: DecimalError, text: &str) -> Refusal {
        let text = quoted(text);
        match error {
            DecimalError::NoNumber => self.refuse(format!("{text}, which does not begin with a number"), None),
            DecimalError::TooManyDigits => self.refuse(format!("{text}, a number with too many digits"), None),
            DecimalError::Comma => {
                let hint = "decimals are written with a point";
                self.refuse(format!("{text}, a number with a comma"), Some(hint.to_owned()))
            }
            DecimalError::Exponent => self.refuse(
                format!("{text}, a number with an exponent"),
                Some(format!("write it out, with one of the units {}", self.symbols())),
            ),
        }
    }

    fn refuse_unit(self, symbol: &str, text: &str) -> Refusal {
        let shown = quoted(text);
        if symbol.is_empty() {
            return self.refuse(format!("{shown}, a number without a unit"), Some(self.known_units()));
        }
        if let Some(other) = Dimension::with_unit(symbol) {
            return self.refuse(format!("{shown}, {}", other.name()), self.dimension.advice().map(str::to_owned));
        }
        let symbols = || self.dimension.units().iter().map(|unit| unit.symbol);
        let lower = symbol.to_lowercase();
        let meant = MEANT
            .iter()
            .find(|(wrong, unit)| wrong.to_lowercase() == lower && self.dimension.unit(unit).is_some())
            .map(|(_, unit)| *unit)
            .or_else(|| symbols().find(|known| known.to_lowercase() == lower))
            .or_else(|| nearest(symbol, symbols()));
        // In messages a unit is written as everybody can type it.
        let plain = |symbol: &'static str| {
            let meant = self.dimension.unit(symbol).filter(|_| !symbol.is_ascii())?;
            let same = |unit: &&Unit| unit.numerator == meant.numerator && unit.symbol.is_ascii();
            self.dimension.units().iter().find(same).map(|unit| unit.symbol)
        };
        let meant = meant.map(|symbol| plain(symbol).unwrap_or(symbol));
        let hint = match meant {
            Some(unit) => format!("the nearest known unit is {unit}"),
            None => self.known_units(),
        };
        self.refuse(format!("{shown}, whose unit {} is unknown", quoted(symbol)), Some(hint))
    }

    fn refuse_digits(self, unit: Unit, text: &str) -> Refusal {
        let expected = match self.dimension.beyond() {
            Beyond::RoundedUpTo(places) if unit.numerator > 1 => {
                format!("{} with at most {places} decimals", self.dimension.name())
            }
            _ => format!("{} in whole {}", self.dimension.name(), smallest_unit(self.dimension)),
        };
        Refusal { expected, found: format!("{}, which is finer", quoted(text)), hint: None }
    }

    fn refuse_step(self, text: &str) -> Refusal {
        Refusal {
            expected: format!("{} in steps of {}", self.dimension.name(), shown(self.dimension, self.step)),
            found: quoted(text),
            hint: None,
        }
    }

    fn refuse_amount(self, amount: i128, text: &str) -> Refusal {
        let shown = quoted(text);
        let found = match self.dimension {
            Dimension::Temperature if amount < ABSOLUTE_ZERO_MILLICELSIUS => format!("{shown}, below absolute zero"),
            _ => shown,
        };
        let hint = self.dimension.advice().map(str::to_owned);
        Refusal { expected: format!("{} from {}", self.dimension.name(), self.limits()), found, hint }
    }

    fn known_units(self) -> String {
        format!("its units are {}", self.symbols())
    }

    fn symbols(self) -> String {
        let ascii: Vec<&str> =
            self.dimension.units().iter().map(|unit| unit.symbol).filter(|symbol| symbol.is_ascii()).collect();
        super::words::and(&ascii)
    }
}

/// A quantity in the largest unit that is not larger than it and needs no more than three decimals. Temperatures are always
/// in degrees, pressures in hectopascals.
pub fn shown(dimension: Dimension, amount: i64) -> String {
    const THOUSAND: i128 = 1_000;
    if amount == 0 {
        let usual = Decimal::split(dimension.example()).map_or("", |(_, rest)| rest.trim());
        return format!("0 {usual}");
    }
    // Half a degree is written 0.5, not as 500 thousandths.
    let may_be_below_one = |unit: &Unit| matches!(unit.symbol, "degC" | "hPa");
    let thousandths = |unit: &Unit| {
        let scaled = i128::from(amount) * i128::from(unit.denominator) * THOUSAND;
        let size = i128::from(unit.numerator);
        let is_enough = scaled.abs() >= size * THOUSAND || may_be_below_one(unit);
        (scaled % size == 0 && is_enough).then_some(scaled / size)
    };
    let is_usual = |unit: &&Unit| dimension != Dimension::Pressure || unit.symbol == "hPa";
    let fitting = dimension.units().iter().filter(|unit| unit.symbol.is_ascii()).filter(is_usual);
    let largest = fitting.filter_map(|unit| thousandths(unit).map(|amount| (amount, unit.symbol)));
    // Units stand from small to large, and equal ones have equal amounts, of which `min_by_key` takes the first.
    let Some((amount, symbol)) = largest.min_by_key(|(amount, _)| amount.abs()) else {
        return amount.to_string();
    };
    let sign = if amount < 0 { "-" } else { "" };
    let (whole, fraction) = (amount.abs() / THOUSAND, amount.abs() % THOUSAND);
    match fraction {
        0 => format!("{sign}{whole} {symbol}"),
        _ => format!("{sign}{whole}.{} {symbol}", format!("{fraction:03}").trim_end_matches('0')),
    }
}

/// The unit of the numbers that are kept.
fn smallest_unit(dimension: Dimension) -> &'static str {
    let unit = dimension.units().iter().find(|unit| unit.numerator == unit.denominator);
    unit.map_or("units", |unit| unit.symbol)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const OHM: Range = Range::new(Dimension::Resistance, 1, 1_000_000);
    const CELSIUS: Range = Range::new(Dimension::Temperature, -55_000, 125_000);
    const TIME: Range = Range::new(Dimension::Time, 1_000, 7 * 86_400_000_000).in_steps_of(1_000);

    #[track_caller]
    fn refused(range: Range, text: &str, message: &str, hint: Option<&str>) {
        let refusal = range.read(text).unwrap_err();
        assert_eq!(format!("expected {}, found {}", refusal.expected, refusal.found), message);
        assert_eq!(refusal.hint.as_deref(), hint);
    }

    #[test]
    fn reads_every_unit_exactly() {
        // SI prefixes; a minute has 60 s, an hour 3600 s, a day 86 400 s.
        let cases = [
            (Dimension::Voltage, "3.3 V", 3_300),
            (Dimension::Voltage, "3300 mV", 3_300),
            (Dimension::Resistance, "4.7 kohm", 4_700),
            (Dimension::Resistance, "0.047 Mohm", 47_000),
            (Dimension::Resistance, "470Ω", 470),
            (Dimension::Resistance, "2.2 kΩ", 2_200),
            (Dimension::Resistance, "1 MΩ", 1_000_000),
            (Dimension::Length, "30 m", 30_000),
            (Dimension::Length, "12 cm", 120),
            (Dimension::Length, "7 mm", 7),
            (Dimension::Length, "0.75 km", 750_000),
            (Dimension::CapacitancePerLength, "50 pF/m", 50),
            (Dimension::CapacitancePerLength, "50 nF/km", 50),
            (Dimension::CapacitancePerLength, "0.05 nF/m", 50),
            (Dimension::Temperature, "-12.5 degC", -12_500),
            (Dimension::Temperature, "12.5 °C", 12_500),
            (Dimension::Temperature, "12500 mdegC", 12_500),
            (Dimension::TemperatureDifference, "0.5 degC", 500),
            (Dimension::TemperatureDifference, "0.5 K", 500),
            (Dimension::TemperatureDifference, "30 mK", 30),
            (Dimension::Time, "5 us", 5),
            (Dimension::Time, "5 µs", 5),
            (Dimension::Time, "1500 ns", 0),
            (Dimension::Time, "2000 ns", 2),
            (Dimension::Time, "93.75 ms", 93_750),
            (Dimension::Time, "2 s", 2_000_000),
            (Dimension::Time, "10 min", 600_000_000),
            (Dimension::Time, "1.5 h", 5_400_000_000),
            (Dimension::Time, "1 d", 86_400_000_000),
            (Dimension::Share, "1 %", 10_000),
            (Dimension::Share, "200 ppm", 200),
            (Dimension::Frequency, "72 MHz", 72_000_000),
            (Dimension::Frequency, "32.768 kHz", 32_768),
            (Dimension::Rate, "200 /s", 200),
            (Dimension::Rate, "120 /min", 2),
            (Dimension::TemperatureRate, "2 degC/min", 120_000),
            (Dimension::TemperatureRate, "0.5 K/s", 1_800_000),
            (Dimension::Charge, "2.4 Ah", 2_400_000),
            (Dimension::Pressure, "1013.25 hPa", 101_325),
            (Dimension::Pressure, "101.325 kPa", 101_325),
            (Dimension::Pressure, "995 mbar", 99_500),
            (Dimension::Pressure, "0.1 bar", 10_000),
            (Dimension::Pressure, "7 Pa", 7),
        ];
        for (dimension, text, amount) in cases {
            let read = Range::new(dimension, i64::MIN, i64::MAX).read(text);
            if text == "1500 ns" {
                assert_eq!(read.unwrap_err().expected, "a time in whole us");
            } else {
                assert_eq!(read, Ok(amount), "{text}");
            }
        }
    }

    #[test]
    fn says_which_dimension_was_found_instead() {
        refused(OHM, "30 m", "expected a resistance such as \"4.7 kohm\", found \"30 m\", a length", None);
        refused(CELSIUS, "3.3 V", "expected a temperature such as \"12.5 degC\", found \"3.3 V\", a voltage", None);
        refused(OHM, "5 min", "expected a resistance such as \"4.7 kohm\", found \"5 min\", a time", None);
    }

    #[test]
    fn says_which_pressure_is_wanted() {
        let station = Range::new(Dimension::Pressure, 50_000, 110_000);
        let advice = Dimension::Pressure.advice();
        refused(station, "312 m", "expected a pressure such as \"1002 hPa\", found \"312 m\", a length", advice);
        refused(station, "1002 Pa", "expected a pressure from 500 hPa to 1100 hPa, found \"1002 Pa\"", advice);
        refused(station, "100200 hPa", "expected a pressure from 500 hPa to 1100 hPa, found \"100200 hPa\"", advice);
    }

    #[test]
    fn names_the_nearest_unit() {
        refused(
            OHM,
            "4.7 kohn",
            "expected a resistance such as \"4.7 kohm\", found \"4.7 kohn\", whose unit \"kohn\" is unknown",
            Some("the nearest known unit is kohm"),
        );
        let hint = |range: Range, text: &str| range.read(text).unwrap_err().hint.unwrap();
        assert_eq!(hint(OHM, "4.7 KOHM"), "the nearest known unit is kohm");
        assert_eq!(hint(OHM, "4.7k"), "the nearest known unit is kohm");
        assert_eq!(hint(OHM, "4k7"), "the nearest known unit is kohm");
        assert_eq!(hint(CELSIUS, "20 C"), "the nearest known unit is degC");
        assert_eq!(hint(TIME, "3 days"), "the nearest known unit is d");
        assert_eq!(hint(TIME, "3 fortnights"), "its units are ns, us, ms, s, min, h and d");
    }

    #[test]
    fn refuses_numbers_that_are_none() {
        let message = |text: &str| OHM.read(text).unwrap_err().found;
        assert_eq!(message(""), "\"\", which does not begin with a number");
        assert_eq!(message("kohm"), "\"kohm\", which does not begin with a number");
        assert_eq!(message("47"), "\"47\", a number without a unit");
        assert_eq!(message("4,7 kohm"), "\"4,7 kohm\", a number with a comma");
        assert_eq!(message("1e12 ohm"), "\"1e12 ohm\", a number with an exponent");
        assert_eq!(message("1234567890123456 ohm"), "\"1234567890123456 ohm\", a number with too many digits");
    }

    #[test]
    fn refuses_absurd_amounts_with_the_limits() {
        refused(OHM, "0 ohm", "expected a resistance from 1 ohm to 1 Mohm, found \"0 ohm\"", None);
        refused(OHM, "-5 ohm", "expected a resistance from 1 ohm to 1 Mohm, found \"-5 ohm\"", None);
        refused(OHM, "1000000 Mohm", "expected a resistance from 1 ohm to 1 Mohm, found \"1000000 Mohm\"", None);
        refused(
            CELSIUS,
            "-300 degC",
            "expected a temperature from -55 degC to 125 degC, found \"-300 degC\", below absolute zero",
            None,
        );
        refused(CELSIUS, "-60 degC", "expected a temperature from -55 degC to 125 degC, found \"-60 degC\"", None);
        refused(TIME, "400 d", "expected a time from 1 ms to 7 d, found \"400 d\"", None);
        refused(TIME, "999999999999999 d", "expected a time from 1 ms to 7 d, found \"999999999999999 d\"", None);
    }

    #[test]
    fn takes_sixteenths_of_a_degree_and_nothing_finer() {
        assert_eq!(CELSIUS.read("25.0625 degC"), Ok(25_063));
        assert_eq!(CELSIUS.read("-25.0625 degC"), Ok(-25_063));
        refused(
            CELSIUS,
            "1.00001 degC",
            "expected a temperature with at most 4 decimals, found \"1.00001 degC\", which is finer",
            None,
        );
        refused(
            CELSIUS,
            "0.5 mdegC",
            "expected a temperature in whole mdegC, found \"0.5 mdegC\", which is finer",
            None,
        );
    }

    #[test]
    fn refuses_what_lies_between_steps() {
        refused(TIME, "1.5001 ms", "expected a time in whole us, found \"1.5001 ms\", which is finer", None);
        refused(TIME, "1.5 ms", "expected a time in steps of 1 ms, found \"1.5 ms\"", None);
    }

    #[test]
    fn shows_quantities_in_the_largest_unit_that_fits() {
        assert_eq!(shown(Dimension::Length, 2_000_000), "2 km");
        assert_eq!(shown(Dimension::Length, 20_500), "20.5 m");
        assert_eq!(shown(Dimension::Voltage, 0), "0 V");
        assert_eq!(shown(Dimension::CapacitancePerLength, 50), "50 pF/m");
        assert_eq!(shown(Dimension::Time, 3_600_000_000), "1 h");
        assert_eq!(shown(Dimension::Temperature, -55_000), "-55 degC");
        assert_eq!(shown(Dimension::Temperature, -500), "-0.5 degC");
        assert_eq!(shown(Dimension::Rate, 200), "200 /s");
        assert_eq!(shown(Dimension::Share, 5_000), "5000 ppm");
        assert_eq!(shown(Dimension::Share, 15_000), "1.5 %");
        assert_eq!(shown(Dimension::Voltage, -12_005), "-12.005 V");
    }

    #[test]
    fn every_example_is_a_quantity_of_its_dimension() {
        for dimension in Dimension::ALL {
            assert!(Range::new(dimension, i64::MIN, i64::MAX).read(dimension.example()).is_ok(), "{dimension:?}");
        }
    }

    proptest! {
        #[test]
        fn what_is_shown_reads_back(index in 0..Dimension::ALL.len(), amount in -1_000_000_000_000..1_000_000_000_000_i64) {
            let dimension = Dimension::ALL[index];
            prop_assert_eq!(Range::new(dimension, i64::MIN, i64::MAX).read(&shown(dimension, amount)), Ok(amount));
        }

        #[test]
        fn any_text_is_a_quantity_or_refused(index in 0..Dimension::ALL.len(), text in "[-+−]?[0-9]{0,16}[.,]?[0-9]{0,8} ?\\PC{0,6}") {
            let range = Range::new(Dimension::ALL[index], -1_000, 1_000);
            if let Ok(amount) = range.read(&text) {
                prop_assert!((-1_000..=1_000).contains(&amount));
            }
        }
    }
}
