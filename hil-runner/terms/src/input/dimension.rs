//! The kinds of quantity that files hold, each with its units.

/// A kind of quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// In millivolts.
    Voltage,
    /// In ohms.
    Resistance,
    /// In millimetres.
    Length,
    /// In picofarads per metre.
    CapacitancePerLength,
    /// In thousandths of a degree Celsius.
    Temperature,
    /// In thousandths of a degree Celsius.
    TemperatureDifference,
    /// In microseconds.
    Time,
    /// In millionths.
    Share,
    /// In hertz.
    Frequency,
    /// Events per second.
    Rate,
    /// In thousandths of a degree Celsius per hour.
    TemperatureRate,
    /// In microampere hours.
    Charge,
    /// In pascals.
    Pressure,
}

/// A unit: how many of the smallest unit of its dimension it is, as a fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit {
    /// As it is written.
    pub symbol: &'static str,
    /// Size, numerator.
    pub numerator: u64,
    /// Size, denominator.
    pub denominator: u64,
}

/// What happens to decimals beyond the smallest unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// They are refused.
    Refused,
    /// Up to this many decimals of a whole degree they are rounded, as readings are: a sixteenth of a degree has four.
    RoundedUpTo(u32),
}

const fn unit(symbol: &'static str, numerator: u64) -> Unit {
    Unit { symbol, numerator, denominator: 1 }
}

impl Dimension {
    /// All of them. Where a unit belongs to two, the first one names it.
    pub const ALL: [Self; 13] = [
        Self::Voltage,
        Self::Resistance,
        Self::Length,
        Self::CapacitancePerLength,
        Self::Temperature,
        Self::TemperatureDifference,
        Self::Time,
        Self::Share,
        Self::Frequency,
        Self::Rate,
        Self::TemperatureRate,
        Self::Charge,
        Self::Pressure,
    ];

    /// Its name, with an article.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Voltage => "a voltage",
            Self::Resistance => "a resistance",
            Self::Length => "a length",
            Self::CapacitancePerLength => "a capacitance per length",
            Self::Temperature => "a temperature",
            Self::TemperatureDifference => "a temperature difference",
            Self::Time => "a time",
            Self::Share => "a share",
            Self::Frequency => "a frequency",
            Self::Rate => "a rate",
            Self::TemperatureRate => "a temperature rate",
            Self::Charge => "a charge",
            Self::Pressure => "a pressure",
        }
    }

    /// A quantity of this kind, as people write it.
    pub const fn example(self) -> &'static str {
        match self {
            Self::Voltage => "3.3 V",
            Self::Resistance => "4.7 kohm",
            Self::Length => "20 m",
            Self::CapacitancePerLength => "50 pF/m",
            Self::Temperature => "12.5 degC",
            Self::TemperatureDifference => "0.5 degC",
            Self::Time => "750 ms",
            Self::Share => "1 %",
            Self::Frequency => "72 MHz",
            Self::Rate => "200 /s",
            Self::TemperatureRate => "2 degC/min",
            Self::Charge => "2400 mAh",
            Self::Pressure => "1002 hPa",
        }
    }

    /// The units it is written in, from small to large; those of other scripts last.
    pub const fn units(self) -> &'static [Unit] {
        match self {
            Self::Voltage => const { &[unit("mV", 1), unit("V", 1_000)] },
            Self::Resistance => {
                const {
                    &[
                        unit("ohm", 1),
                        unit("kohm", 1_000),
                        unit("Mohm", 1_000_000),
                        unit("Ω", 1),
                        unit("kΩ", 1_000),
                        unit("MΩ", 1_000_000),
                    ]
                }
            }
            Self::Length => const { &[unit("mm", 1), unit("cm", 10), unit("m", 1_000), unit("km", 1_000_000)] },
            Self::CapacitancePerLength => const { &[unit("pF/m", 1), unit("nF/km", 1), unit("nF/m", 1_000)] },
            Self::Temperature => const { &[unit("mdegC", 1), unit("degC", 1_000), unit("°C", 1_000)] },
            Self::TemperatureDifference => {
                const { &[unit("mdegC", 1), unit("mK", 1), unit("degC", 1_000), unit("K", 1_000), unit("°C", 1_000)] }
            }
            Self::Time => {
                const {
                    &[
                        Unit { symbol: "ns", numerator: 1, denominator: 1_000 },
                        unit("us", 1),
                        unit("ms", 1_000),
                        unit("s", 1_000_000),
                        unit("min", 60_000_000),
                        unit("h", 3_600_000_000),
                        unit("d", 86_400_000_000),
                        unit("µs", 1),
                        unit("μs", 1),
                    ]
                }
            }
            Self::Share => const { &[unit("ppm", 1), unit("%", 10_000)] },
            Self::Frequency => const { &[unit("Hz", 1), unit("kHz", 1_000), unit("MHz", 1_000_000)] },
            Self::Rate => const { &[Unit { symbol: "/min", numerator: 1, denominator: 60 }, unit("/s", 1)] },
            Self::TemperatureRate => {
                const {
                    &[
                        unit("mdegC/h", 1),
                        unit("degC/h", 1_000),
                        unit("degC/min", 60_000),
                        unit("degC/s", 3_600_000),
                        unit("K/h", 1_000),
                        unit("K/min", 60_000),
                        unit("K/s", 3_600_000),
                        unit("°C/h", 1_000),
                        unit("°C/min", 60_000),
                        unit("°C/s", 3_600_000),
                    ]
                }
            }
            Self::Charge => const { &[unit("uAh", 1), unit("mAh", 1_000), unit("Ah", 1_000_000)] },
            Self::Pressure => {
                const { &[unit("Pa", 1), unit("hPa", 100), unit("mbar", 100), unit("kPa", 1_000), unit("bar", 100_000)] }
            }
        }
    }

    /// The unit that is written like this.
    pub fn unit(self, symbol: &str) -> Option<Unit> {
        self.units().iter().copied().find(|unit| unit.symbol == symbol)
    }

    /// The kind of quantity that has a unit written like this.
    pub(crate) fn with_unit(symbol: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|dimension| dimension.unit(symbol).is_some())
    }

    /// Advice for a quantity that is out of range or of another kind.
    pub const fn advice(self) -> Option<&'static str> {
        match self {
            // 0.12 hPa per metre near sea level (ISO 2533, from memory); weather moves it by some 30 hPa, which moves the
            // steam point by 0.8 degC (0.028 degC per hPa, IAPWS-IF97 region 4).
            Self::Pressure => Some(
                "station pressure is wanted: what a barometer shows at this place and hour. Near sea level it falls by some \
                 12 hPa per 100 m of altitude; forecasts give it reduced to sea level, and altitude alone does not tell it",
            ),
            _ => None,
        }
    }

    /// What happens to decimals beyond the smallest unit.
    pub const fn beyond(self) -> Beyond {
        match self {
            Self::Temperature | Self::TemperatureDifference => Beyond::RoundedUpTo(4),
            _ => Beyond::Refused,
        }
    }
}
