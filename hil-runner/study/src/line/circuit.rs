//! A resistor, a capacitance and what sensors draw: how a released line rises.

/// What decides over a rise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Supply of the pull-up.
    pub supply_v: f64,
    /// The pull-up.
    pub pull_up_ohm: f64,
    /// Cable, sensors and master together.
    pub picofarad: f64,
    /// What all sensors draw from a high line.
    pub load_ua: f64,
}

impl Circuit {
    /// Resistance times capacitance.
    #[must_use]
    pub fn time_constant_us(&self) -> f64 {
        // ohm x pF = 1e-12 s = 1e-6 us.
        self.pull_up_ohm * self.picofarad * 1e-6
    }

    /// Where the line ends: the sensors' current leaves that much of the supply, and at 0 V they draw none.
    #[must_use]
    pub fn idle_v(&self) -> f64 {
        (self.supply_v - self.drop_v()).max(0.0)
    }

    /// What the sensors' current would take of the supply, all of it and more included.
    #[must_use]
    pub fn drop_v(&self) -> f64 {
        self.pull_up_ohm * self.load_ua * 1e-6
    }

    /// From 0 V to `volts`: t = RC ln(V / (V - volts)), where V is what the line rises to. None: it never gets there.
    #[must_use]
    pub fn rise_us(&self, volts: f64) -> Option<f64> {
        time_constants(self.idle_v(), volts).map(|number| number * self.time_constant_us())
    }
}

/// How many time constants a rise from 0 V to `volts` takes on a line that ends at `idle_v`. None: it never gets there.
pub(super) fn time_constants(idle_v: f64, volts: f64) -> Option<f64> {
    (idle_v > volts).then(|| (idle_v / (idle_v - volts)).ln())
}
