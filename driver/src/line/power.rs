//! The strong pull-up: a switch that ties the line to the supply while parasite-powered sensors convert or save.
//!
//! A parasite-powered sensor draws up to 1.5 mA during Convert T and Copy Scratchpad, which a 4.7 kohm resistor cannot
//! carry; the switch must close within 10 us of the command (DS18B20 datasheet (7/19), Powering the DS18B20).

use embedded_hal::digital::{Error, ErrorKind, OutputPin};

/// Why the strong pull-up could not be switched.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum SwitchError {
    /// This line has no strong pull-up.
    #[error("this line has no strong pull-up")]
    Missing,
    /// The pin of the switch reported an error.
    #[error("the pin of the strong pull-up failed: {0:?}")]
    Pin(#[cfg_attr(feature = "serde", serde(with = "kind_as_data"))] ErrorKind),
}

#[cfg(feature = "serde")]
mod kind_as_data {
    //! The kind of a pin's error. embedded-hal has one kind so far and may add others; as data they are all the same.

    use embedded_hal::digital::ErrorKind;
    use serde::de::{Deserialize, Deserializer};
    use serde::ser::{Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(_: &ErrorKind, serializer: S) -> Result<S::Ok, S::Error> {
        ().serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<ErrorKind, D::Error> {
        <()>::deserialize(deserializer).map(|()| ErrorKind::Other)
    }
}

/// A switch between line and supply.
pub trait StrongPullUp {
    /// Whether there is a switch at all. A line without one refuses to power sensors before a command is sent.
    const FITTED: bool = true;

    /// Ties the line to the supply.
    ///
    /// # Errors
    /// [`SwitchError`] if there is no such switch, or its pin failed.
    fn on(&mut self) -> Result<(), SwitchError>;

    /// Lets the line go back to its resistor.
    ///
    /// # Errors
    /// [`SwitchError`] if the pin failed. A line without a switch has nothing to open and succeeds.
    fn off(&mut self) -> Result<(), SwitchError>;
}

/// What powers the line of a [`PinLine`](super::PinLine): a switch of its own, that is any [`StrongPullUp`], or the data pin `P` itself,
/// see [`DataPinPullUp`].
pub trait LinePower<P> {
    /// Whether there is anything to power it with.
    const FITTED: bool;

    /// Powers the line, which `pin` has released.
    ///
    /// # Errors
    /// [`SwitchError`] if there is nothing to power it with, or a pin failed.
    fn power_on(&mut self, pin: &mut P) -> Result<(), SwitchError>;

    /// Lets the line go back to its resistor.
    ///
    /// # Errors
    /// [`SwitchError`] if a pin failed.
    fn power_off(&mut self, pin: &mut P) -> Result<(), SwitchError>;
}

impl<P, S: StrongPullUp> LinePower<P> for S {
    const FITTED: bool = S::FITTED;

    fn power_on(&mut self, _: &mut P) -> Result<(), SwitchError> {
        self.on()
    }

    fn power_off(&mut self, _: &mut P) -> Result<(), SwitchError> {
        self.off()
    }
}

/// A data pin that can drive the line high as well as low: push-pull while it powers sensors, open drain at all other times.
pub trait DrivesHigh: OutputPin {
    /// Drives the line high. The pin has let the line go before.
    ///
    /// # Errors
    /// That of the pin.
    fn drive_high(&mut self) -> Result<(), Self::Error>;

    /// Drives it no longer: open drain again, and released.
    ///
    /// # Errors
    /// That of the pin.
    fn stop_driving(&mut self) -> Result<(), Self::Error>;
}

/// The data pin as its own strong pull-up, without a transistor beside it.
///
/// The pin carries the current of all sensors that work at once, 1.5 mA each (DS18B20 datasheet (7/19), Powering the DS18B20), and must
/// not sag below the 3.0 V that they need; its chip's datasheet says how much it can. Whatever else pulls the line low meanwhile, a
/// short or a sensor out of order, pulls against the pin: a resistor in series protects it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DataPinPullUp;

impl<P: DrivesHigh> LinePower<P> for DataPinPullUp {
    const FITTED: bool = true;

    fn power_on(&mut self, pin: &mut P) -> Result<(), SwitchError> {
        pin.drive_high().map_err(|error| SwitchError::Pin(error.kind()))
    }

    fn power_off(&mut self, pin: &mut P) -> Result<(), SwitchError> {
        pin.stop_driving().map_err(|error| SwitchError::Pin(error.kind()))
    }
}

/// No switch: every sensor on the line has its own supply wire.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NoStrongPullUp;

impl StrongPullUp for NoStrongPullUp {
    const FITTED: bool = false;

    fn on(&mut self) -> Result<(), SwitchError> {
        Err(SwitchError::Missing)
    }

    fn off(&mut self) -> Result<(), SwitchError> {
        Ok(())
    }
}

/// The level that closes the switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SwitchLevel {
    /// A high pin closes it (an inverting stage before the transistor).
    High,
    /// A low pin closes it (a P-channel MOSFET driven directly, as in the datasheets' figures).
    Low,
}

/// A strong pull-up switched by an output pin.
#[derive(Debug)]
pub struct PullUpSwitch<P> {
    pin: P,
    closes_at: SwitchLevel,
}

impl<P: OutputPin> PullUpSwitch<P> {
    /// A switch on `pin` that `closes_at` the given level. Opens it at once.
    ///
    /// # Errors
    /// [`SwitchError::Pin`] if the pin failed.
    pub fn new(pin: P, closes_at: SwitchLevel) -> Result<Self, SwitchError> {
        let mut switch = Self { pin, closes_at };
        switch.off()?;
        Ok(switch)
    }

    /// Gives the pin back.
    pub fn release(self) -> P {
        self.pin
    }
}

impl<P: OutputPin> StrongPullUp for PullUpSwitch<P> {
    fn on(&mut self) -> Result<(), SwitchError> {
        match self.closes_at {
            SwitchLevel::High => self.pin.set_high(),
            SwitchLevel::Low => self.pin.set_low(),
        }
        .map_err(|error| SwitchError::Pin(error.kind()))
    }

    fn off(&mut self) -> Result<(), SwitchError> {
        match self.closes_at {
            SwitchLevel::High => self.pin.set_low(),
            SwitchLevel::Low => self.pin.set_high(),
        }
        .map_err(|error| SwitchError::Pin(error.kind()))
    }
}
