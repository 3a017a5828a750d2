//! One sensor measured alone, with proof that it converted and kept its power.
//!
//! On a line with both kinds of power a common Convert T can take the supply from the sensors that live on the line: their current pulls
//! the line down before the strong pull-up closes, a sensor on its own supply can take that edge for a read slot, and its "busy" holds the
//! line low against the strong pull-up. The sensors on parasite power then reset and hold the power-on value. A sensor that is addressed
//! alone is safe from that, as the others wait for the next reset.

use slotwise::thermometer::{CONVERSION_MAX_US, Doubt, Evidence, Receipt, Supply, Wait};

use super::memory::{Memory, Sensor, TRIES, may_be_a_pulse, persist};
use super::reading::twice;
use slotwise_bench::Bench;
use slotwise_rig::reply::{Sample, Trouble};

/// A reading, and how often the sensor was measured alone for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measurement {
    pub sample: Sample,
    /// How often the sensor was measured again, alone, because nothing proved the reading before.
    pub again: u32,
}

/// Whether a reading is worth another measurement: its proof failed, or it may be the power-on value.
pub fn lacks_proof(sample: &Sample) -> bool {
    sample.doubts.contains(Doubt::NoConversion) || sample.doubts.contains(Doubt::PowerOnValue)
}

impl Memory {
    /// Measures one sensor alone until its reading is proven, at most `tries` times. Returns the last reading and how often it was tried.
    ///
    /// # Errors
    /// [`Trouble`] if no try gave a number, or if its own settings could not be restored.
    pub fn prove(
        &mut self,
        bench: &mut dyn Bench,
        sensor: Sensor,
        (supply, tries): (Supply, u32),
    ) -> Result<(Sample, u32), Trouble> {
        self.note_proof();
        // Before the first try: one that fails may leave the mark, or the settings of the EEPROM, for the sensor's own.
        let own = twice(bench, &sensor, &Receipt::NONE)?.settings;
        let (mut tried, mut has_failed, mut unproven) = (0, false, None);
        let proven = loop {
            tried += 1;
            match bench.prove(sensor.rom, Wait::suits(supply), CONVERSION_MAX_US) {
                Ok(sample) if sample.evidence == Evidence::Proven => break Ok(sample),
                Ok(sample) => unproven = Some(sample),
                Err(Trouble::Failed(failure)) if may_be_a_pulse(failure.kind) && tried < tries => has_failed = true,
                Err(trouble) => {
                    has_failed = true;
                    break Err(trouble);
                }
            }
            if tried >= tries {
                break unproven.ok_or_else(|| Trouble::not_possible("a proof of this conversion"));
            }
        };
        if has_failed {
            persist(|| bench.write(sensor.rom, own))?;
        }
        match (proven, unproven) {
            // A number with its doubt says more than the failure of the last try.
            (Err(Trouble::Failed(_)), Some(sample)) => Ok((sample, tried)),
            (proven, _) => proven.map(|sample| (sample, tried)),
        }
    }

    /// Measures a sensor again, alone, where its reading lacks proof. A reading that no try proves stays as it is, with its doubt.
    ///
    /// # Errors
    /// [`Trouble`] if the rig cannot go on, or if the sensor's own settings could not be restored.
    pub fn again(
        &mut self,
        bench: &mut dyn Bench,
        (sensor, supply): (Sensor, Supply),
        sample: Sample,
    ) -> Result<Measurement, Trouble> {
        if !lacks_proof(&sample) {
            return Ok(Measurement { sample, again: 0 });
        }
        match self.prove(bench, sensor, (supply, TRIES)) {
            Ok((proven, again)) if proven.evidence == Evidence::Proven => Ok(Measurement { sample: proven, again }),
            Ok((_, again)) => Ok(Measurement { sample, again }),
            Err(trouble) => Err(trouble),
        }
    }
}
