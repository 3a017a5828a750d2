//! Masters of any speed on the virtual line, where a sensor may ignore whatever is shorter than the datasheet has it: every sensor is
//! found and read on every seed, as long as the master knows what its calls cost.

use crate::desk::{bus, measure_all};
use slotwise::bus::{Bus, SearchScope};
use slotwise::line::{Overhead, PinLine, Timing, TimingError};
use slotwise::thermometer::Wait;
use slotwise_virtual_line::{Cable, Cpu, LineConfig, Part, SensorConfig, SensorTiming, VirtualLine};

fn line(cpu: Cpu, seed: u64) -> VirtualLine {
    let cable = Cable { length_mm: 1_000, pf_per_m: 50 };
    let line = VirtualLine::new(LineConfig { cpu, cable, ..LineConfig::default() }, seed).unwrap();
    for (serial, timing) in
        [SensorTiming::fastest(), SensorTiming::typical(), SensorTiming::slowest()].into_iter().enumerate()
    {
        line.attach(SensorConfig { timing, ..SensorConfig::new(Part::Ds18b20, serial as u64 * 0x0903_1107 + 1) })
            .unwrap();
    }
    line
}

const fn cpu(pin_ns: u32, delay_ns: u32, step_ns: u32) -> Cpu {
    Cpu { pin_write_ns: pin_ns, pin_read_ns: pin_ns, delay_overhead_ns: delay_ns, delay_step_ns: step_ns }
}

#[test]
fn a_master_that_knows_its_costs_is_heard_whatever_they_are() {
    let costs = [
        cpu(0, 0, 1),
        cpu(300, 3_000, 1),
        cpu(300, 6_500, 1),
        cpu(1_000, 2_000, 500),
        cpu(2_500, 5_000, 100),
        cpu(50, 900, 250),
    ];
    for cpu in costs {
        for timing in [Timing::SHORT_LINE, Timing::LONG_LINE] {
            for seed in 0..4 {
                let line = line(cpu, seed);
                let readings = measure_all(&mut bus(&line, timing), Wait::Poll);
                let readings = readings.unwrap_or_else(|error| panic!("{cpu:?}, {timing:?}, seed {seed}: {error}"));
                assert_eq!(readings.len(), 3, "{cpu:?}, {timing:?}, seed {seed}");
                assert!(readings.iter().all(|(_, reading)| reading.is_trusted()), "{cpu:?}, {timing:?}, seed {seed}");
            }
        }
    }
}

#[test]
fn a_master_that_overrates_its_costs_makes_lows_that_sensors_miss() {
    // It leaves its delay out, because it takes setting a pin for 1.2 us; really it is 0.3 us.
    let believed = Overhead { pin_write_ns: 1_200, pin_read_ns: 300, delay_ns: 3_000 };
    let lost = (0..32).filter(|seed| {
        let line = line(cpu(300, 3_000, 1), *seed);
        let master = PinLine::new(line.pin(), line.delay(), Timing::SHORT_LINE).unwrap();
        let master = master.with_overhead(believed).unwrap();
        let found = Bus::new(master).search(SearchScope::All).filter_map(Result::ok).count();
        found != 3
    });
    assert_eq!(lost.count(), 32, "no search gets through with lows of 0.3 us");
}

#[test]
fn a_master_that_measures_its_costs_sees_the_fastest_sensor_that_an_ignorant_one_misses() {
    for mhz in [8, 16, 24] {
        let line = line(Cpu::at_mhz(mhz), 1);
        let counter = line.clone();
        let master = |is_calibrated: bool| {
            let master = PinLine::new(line.pin(), line.delay(), Timing::SHORT_LINE).unwrap();
            let mut master = master;
            if is_calibrated {
                master.calibrate(1_000_000_000, || counter.now_ns() as u32).unwrap();
            }
            let mut bus = Bus::new(master);
            bus.search(SearchScope::All).filter_map(Result::ok).count()
        };
        // Without costs the sample of an 8 MHz core is at 23 us, that of a 24 MHz core at 16 us; the fastest sensor lets go at 15 us.
        assert!(mhz > 16 || master(false) < 3, "{mhz} MHz");
        assert_eq!(master(true), 3, "{mhz} MHz");
    }
}

#[test]
fn a_delay_that_sleeps_is_refused_by_name_before_the_first_edge() {
    let line = line(cpu(300, 60_000, 1_000), 1);
    let counter = line.clone();
    line.record(slotwise_virtual_line::Recording::default());
    let mut master = PinLine::new(line.pin(), line.delay(), Timing::SHORT_LINE).unwrap();
    let refused = master.calibrate(1_000_000_000, || counter.now_ns() as u32);
    let Err(slotwise::line::SetupError::Timing(TimingError::CoarseDelay(_))) = refused else { panic!("{refused:?}") };
    assert_eq!(line.stop_recording().unwrap().transitions().count(), 0);
}
