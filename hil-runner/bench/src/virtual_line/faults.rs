//! Faults of a scenario, as faults of the virtual line.

use slotwise_virtual_line as physics;
use slotwise_virtual_line::{FaultId, NoisePulse, SensorId, VirtualLine};

use super::on_line::lost;
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};

/// Noise pulls the line low through this resistance: firmly, against any pull-up.
const NOISE_OHM: u32 = 100;
/// Bits in a scratchpad.
const SCRATCHPAD_BITS: f64 = 72.0;

/// The faults that are there now.
#[derive(Debug)]
pub(super) struct Injected {
    sensors: Vec<SensorId>,
    /// Conversion time of each sensor in thousandths of the datasheet maximum.
    own_permille: Vec<u32>,
    /// With the sensor it is about, if it is about one.
    present: Vec<(FaultKind, Option<usize>, FaultId)>,
}

impl Injected {
    pub(super) fn new(rig: &Rig, sensors: Vec<SensorId>) -> Self {
        let own_permille = rig.inventory.iter().map(|sensor| sensor.behaviour.conversion_permille).collect();
        Self { sensors, own_permille, present: Vec::new() }
    }

    pub(super) fn inject(&mut self, line: &VirtualLine, fault: &Fault) -> Result<(), Trouble> {
        let kind = fault.kind();
        for (sensor, fault) in self.translate(fault)? {
            self.clear_where(line, |known, about| known == kind && about == sensor);
            let id = line.inject(fault).map_err(lost)?;
            self.present.push((kind, sensor, id));
        }
        Ok(())
    }

    pub(super) fn clear(&mut self, line: &VirtualLine, kind: FaultKind) {
        self.clear_where(line, |known, _| known == kind);
    }

    fn clear_where(&mut self, line: &VirtualLine, chosen: impl Fn(FaultKind, Option<usize>) -> bool) {
        self.present.retain(|(kind, sensor, id)| {
            let go = chosen(*kind, *sensor);
            if go {
                line.clear(*id);
            }
            !go
        });
    }

    fn translate(&self, fault: &Fault) -> Result<Vec<(Option<usize>, physics::Fault)>, Trouble> {
        let whole_line = |fault| Ok(vec![(None, fault)]);
        match fault {
            Fault::Short { ohm } => whole_line(physics::Fault::Short { ohm: *ohm }),
            Fault::Open => whole_line(physics::Fault::Open { position_mm: 0 }),
            Fault::Noise { per_second, width_us } => whole_line(physics::Fault::Noise {
                pulses_per_second: *per_second,
                width_ns: u64::from(*width_us) * 1000,
                pulse: NoisePulse::PullsLow { ohm: NOISE_OHM },
            }),
            Fault::BrownOut { to_mv, .. } => whole_line(physics::Fault::BrownOut { supply_mv: *to_mv }),
            Fault::PullUp { ohm } => whole_line(physics::Fault::PullUp { ohm: Some(*ohm) }),
            Fault::Unplug(sensors) => sensors
                .iter()
                .map(|sensor| Ok((Some(*sensor), physics::Fault::Unplug { sensor: self.id(*sensor)? })))
                .collect(),
            Fault::SlowSensor { sensor, permille } => {
                let own = self.own_permille.get(*sensor).copied().unwrap_or(1000).max(1);
                let factor = u64::from(*permille) * 1000 / u64::from(own);
                Ok(vec![(
                    Some(*sensor),
                    physics::Fault::SlowSensor {
                        sensor: self.id(*sensor)?,
                        oscillator_ppm: 0,
                        conversion_permille: u32::try_from(factor).unwrap_or(u32::MAX),
                    },
                )])
            }
            Fault::BitErrors { sensor, ppm } => Ok(vec![(
                Some(*sensor),
                physics::Fault::FlippedBits { sensor: self.id(*sensor)?, per_million: per_bit(*ppm) },
            )]),
        }
    }

    fn id(&self, sensor: usize) -> Result<SensorId, Trouble> {
        self.sensors.get(sensor).copied().ok_or_else(|| Trouble::not_possible(format!("reaching sensor {sensor}")))
    }
}

/// The probability of each bit that makes this share of all transfers damaged, in millionths.
fn per_bit(transfers_ppm: u32) -> u32 {
    let share = f64::from(transfers_ppm.min(1_000_000)) / 1e6;
    let bit = 1.0 - (1.0 - share).powf(1.0 / SCRATCHPAD_BITS);
    // Between 0 and a million.
    ((bit * 1e6).ceil() as u32).min(1_000_000)
}

#[cfg(test)]
mod tests {
    use super::per_bit;

    #[test]
    fn damage_per_transfer_is_spread_over_its_bits() {
        assert_eq!(per_bit(0), 0);
        assert_eq!(per_bit(1_000_000), 1_000_000);
        // 1 - (1 - 0.5)^(1/72) = 0.009_580_8
        assert_eq!(per_bit(500_000), 9_581);
        assert_eq!(per_bit(1), 1);
    }
}
