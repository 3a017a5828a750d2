//! From the model of a rig to a line with sensors and a driver on it.

use slotwise::thermometer::{Family, Supply};
use slotwise_virtual_line::{
    AttachError, Cable, Cpu, Eeprom, Fault, InjectError, LineConfig, LineConfigError, Part, PowerMode, Recording,
    RomCode, SensorConfig, SensorId, SensorTiming, Thermal, UnknownSensor, VirtualLine,
};

use super::hands::VirtualHands;
use super::on_line::OnLine;
use super::service::in_process;
use crate::bridge::BridgeBench;
use crate::link::Link;
use crate::{Bench, OpenError};
use slotwise_rig as rig;

/// Whether the waveform of the line is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tracing {
    /// It is not: faster, and no memory needed.
    Off,
    /// Its last million transitions are.
    On,
}

/// Why there is no such line.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LineProblem {
    /// No line is like this.
    #[error("no line can be like this: {0}")]
    Line(#[from] LineConfigError),
    /// No sensor is like this.
    #[error("sensor {label}: {source}")]
    Sensor {
        /// Its label.
        label: String,
        /// What is wrong with it.
        source: SensorError,
    },
    /// The driver cannot use the pins.
    #[error("the pins failed: {0}")]
    Pins(String),
}

/// Why a sensor cannot be on a line.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SensorError {
    /// It cannot be attached.
    #[error(transparent)]
    Attach(#[from] AttachError),
    /// It cannot be taken off again.
    #[error(transparent)]
    Unplug(#[from] InjectError),
    /// It is not there.
    #[error(transparent)]
    Unknown(#[from] UnknownSensor),
}

/// Makes a virtual rig ready. All that is random comes from `seed`.
///
/// # Errors
/// [`OpenError`] if no such line or sensor can be.
pub fn open_virtual(
    rig: &rig::Rig,
    virtual_line: &rig::VirtualLine,
    seed: u64,
    tracing: Tracing,
) -> Result<Box<dyn Bench>, OpenError> {
    let cpu = Cpu::at_mhz(virtual_line.clock_mhz);
    let (line, on_line) = build_line(rig, virtual_line, cpu, seed, tracing)?;
    let carrier = in_process(&line, virtual_line.clock_mhz)?;
    // Every open rig is a new world, in which no session was before.
    let link = Link::open(carrier, 1)?;
    Ok(Box::new(BridgeBench::new(link, VirtualHands { line, on_line }, rig)?))
}

/// The line of a rig with its sensors on it, for a master with a CPU like this.
///
/// # Errors
/// `LineProblem` if no such line or sensor can be.
pub fn build_line(
    rig: &rig::Rig,
    virtual_line: &rig::VirtualLine,
    cpu: Cpu,
    seed: u64,
    tracing: Tracing,
) -> Result<(VirtualLine, OnLine), LineProblem> {
    let line = VirtualLine::new(line_config(virtual_line, cpu), seed)?;
    let sensors = attach_all(&line, rig, virtual_line.cable_mm)?;
    if tracing == Tracing::On {
        line.record(Recording::default());
    }
    let on_line = OnLine::new(rig, sensors);
    Ok((line, on_line))
}

fn line_config(virtual_line: &rig::VirtualLine, cpu: Cpu) -> LineConfig {
    LineConfig {
        supply_mv: virtual_line.supply_mv,
        pull_up_ohm: virtual_line.pull_up_ohm,
        cable: Cable { length_mm: virtual_line.cable_mm, pf_per_m: virtual_line.cable_pf_per_m },
        strong_pull_up_ohm: virtual_line.strong_pull_up_ohm,
        cpu,
        ambient_millicelsius: virtual_line.ambient_millicelsius,
        ..LineConfig::default()
    }
}

fn attach_all(line: &VirtualLine, rig: &rig::Rig, cable_mm: u32) -> Result<Vec<SensorId>, LineProblem> {
    let count = rig.inventory.len() as u64;
    let mut sensors = Vec::with_capacity(rig.inventory.len());
    for (sensor, place) in rig.inventory.iter().zip(1_u64..) {
        // Evenly along the cable, the last one at its end. The quotient is not above the length.
        let position_mm = (u64::from(cable_mm) * place / count) as u32;
        let id = attach(line, sensor, position_mm)
            .map_err(|source| LineProblem::Sensor { label: sensor.label.clone(), source })?;
        sensors.push(id);
    }
    Ok(sensors)
}

fn attach(line: &VirtualLine, sensor: &rig::Sensor, position_mm: u32) -> Result<SensorId, SensorError> {
    let behaviour = &sensor.behaviour;
    let part = match sensor.part {
        Family::Ds18b20 => Part::Ds18b20,
        Family::Ds18s20 => Part::Ds18s20,
        Family::Ds1822 => Part::Ds1822,
        Family::Ds1825 => Part::Ds1825,
        Family::Ds28ea00 => Part::Ds28ea00,
    };
    // Nothing of this number remains: the whole code is given below.
    let plain = SensorConfig::new(part, 0);
    let timing = if behaviour.conversion_permille > 1000 {
        // A sensor that takes longer than the datasheet allows is out of order in nothing else.
        SensorTiming::outside_limits(SensorTiming::typical().values()).unwrap_or(plain.timing)
    } else {
        plain.timing
    };
    let config = SensorConfig {
        rom: RomCode::from_bytes(*sensor.rom.bytes()),
        power: match sensor.supply {
            Supply::Local => PowerMode::Local,
            Supply::Parasite => PowerMode::Parasite,
        },
        position_mm,
        timing,
        conversion_permille: behaviour.conversion_permille,
        thermal: Thermal {
            time_constant_ms: behaviour.lag_ms,
            offset_millicelsius: behaviour.offset_millicelsius,
            noise_millicelsius: behaviour.noise_millicelsius,
        },
        eeprom: Eeprom {
            // R1 and R0 are bits 6 and 5 (DS18B20 datasheet (7/19), Figure 10).
            configuration: 0x1F | (behaviour.resolution.bits() - 9) << 5,
            ..Eeprom::factory()
        },
        ..plain
    };
    if let Some(twin) = &behaviour.twin {
        // Its place is not among those of the inventory: no step of a scenario is about it.
        let id = line.attach(config.clone())?;
        line.set_sensor_ambient_millicelsius(id, twin.ambient_millicelsius)?;
    }
    let id = line.attach(config)?;
    if let Some(millicelsius) = behaviour.ambient_millicelsius {
        line.set_sensor_ambient_millicelsius(id, Some(millicelsius))?;
    }
    if !behaviour.connected {
        // Never cleared: it does not come back with those that a scenario takes off.
        line.inject(Fault::Unplug { sensor: id })?;
    }
    Ok(id)
}
