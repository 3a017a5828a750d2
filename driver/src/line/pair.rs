//! Two pins that together make one open-drain pin.

use embedded_hal::digital::{ErrorType, InputPin, OutputPin};

/// An input pin and an output pin that together make one open-drain pin.
///
/// The output must be open drain, or drive the gate of a transistor that pulls the line low; in the second case the
/// signal is inverted, see [`PinPair::inverted`].
#[derive(Debug)]
pub struct PinPair<I, O> {
    input: I,
    output: O,
    inverted: bool,
}

impl<I, O> PinPair<I, O> {
    /// A pair whose output releases the line when high and pulls it low when low.
    pub const fn new(input: I, output: O) -> Self {
        Self { input, output, inverted: false }
    }

    /// A pair whose output pulls the line low when high, through a transistor.
    pub const fn inverted(input: I, output: O) -> Self {
        Self { input, output, inverted: true }
    }

    /// Gives the pins back.
    pub fn release(self) -> (I, O) {
        (self.input, self.output)
    }
}

impl<I: InputPin, O: OutputPin<Error = I::Error>> ErrorType for PinPair<I, O> {
    type Error = I::Error;
}

impl<I: InputPin, O: OutputPin<Error = I::Error>> InputPin for PinPair<I, O> {
    fn is_high(&mut self) -> Result<bool, Self::Error> {
        self.input.is_high()
    }

    fn is_low(&mut self) -> Result<bool, Self::Error> {
        self.input.is_low()
    }
}

impl<I: InputPin, O: OutputPin<Error = I::Error>> OutputPin for PinPair<I, O> {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        if self.inverted { self.output.set_high() } else { self.output.set_low() }
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        if self.inverted { self.output.set_low() } else { self.output.set_high() }
    }
}
