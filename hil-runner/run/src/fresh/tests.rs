//! What is proven of virtual sensors, and what is left behind on them.

use slotwise::bus::Target;
use slotwise::thermometer::{AlarmLimits, Doubt, Evidence, Resolution, Settings, Supply};

use super::{Memory, Sensor, supply};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_rig::Rig;
use slotwise_rig::reply::Sample;

fn rig(power: &str) -> Rig {
    let text = format!(
        "rig = \"fresh\"\nkind = \"virtual\"\n[line]\nsupply = \"5 V\"\npull_up = \"2.2 kohm\"\ncable = \"5 m\"\n\
         strong_pull_up = \"10 ohm\"\nambient = \"20 degC\"\n\
         [[sensor]]\nlabel = \"a\"\nrom = \"28:3D5C81B20E11:B7\"\npart = \"DS18B20\"\npower = \"{power}\"\n\
         [[sensor]]\nlabel = \"b\"\nrom = \"10:4F92A10C0800:75\"\npart = \"DS18S20\"\npower = \"{power}\"\n"
    );
    Rig::parse("fresh.toml", &text).unwrap()
}

fn bench(rig: &Rig) -> Box<dyn Bench> {
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    open(rig, 1, Tracing::Off, outside).unwrap()
}

fn sensors(rig: &Rig) -> Vec<Sensor> {
    rig.inventory.iter().map(Sensor::listed).collect()
}

fn measure(memory: &mut Memory, bench: &mut dyn Bench, rig: &Rig) -> Vec<Sample> {
    let supply = supply(bench, rig, Target::All).unwrap();
    memory.measure(bench, &sensors(rig), supply).unwrap().into_iter().map(|measured| measured.unwrap().sample).collect()
}

#[test]
fn on_their_own_supply_each_is_seen_busy_and_waited_for_as_long_as_its_resolution_may_take() {
    let rig = rig("local");
    let (mut bench, mut memory) = (bench(&rig), Memory::of(&rig));
    for (celsius, expected) in [(20, 320), (60, 960)] {
        bench.set_ambient(&[0, 1], celsius * 1_000).unwrap();
        let began_ns = bench.now_ns();
        let samples = measure(&mut memory, bench.as_mut(), &rig);
        assert!(samples.iter().all(|sample| (sample.sixteenths, sample.evidence) == (expected, Evidence::SeenBusy)));
        // 750 ms (DS18B20 datasheet (7/19), Table 2) and 1/32 for the master's clock.
        assert!(bench.now_ns() - began_ns > 773_000_000);
    }
    // Only the sensor with a register for it, at 9 bits: 93.75 ms.
    let one = [sensors(&rig)[0]];
    let settings = |resolution| Settings { limits: AlarmLimits { low: 1, high: 2 }, resolution: Some(resolution) };
    bench.write(one[0].rom, settings(Resolution::Bits9)).unwrap();
    let mut memory = Memory::default();
    let mut alone = |bench: &mut dyn Bench| {
        let began_ns = bench.now_ns();
        let sample = memory.measure(bench, &one, Supply::Local).unwrap().remove(0).unwrap().sample;
        (sample.sixteenths, (bench.now_ns() - began_ns) / 1_000_000)
    };
    assert!(alone(bench.as_mut()).1 > 773, "nothing is known of it");
    assert!(alone(bench.as_mut()).1 < 130, "93.75 ms, and two readings");
    // A finer resolution that was set behind the memory's back.
    bench.write(one[0].rom, settings(Resolution::Bits12)).unwrap();
    bench.set_ambient(&[0, 1], 30_000).unwrap();
    let (sixteenths, took_ms) = alone(bench.as_mut());
    assert_eq!(sixteenths, 480, "it is waited for, and read again");
    assert!(took_ms > 750, "{took_ms} ms");
}

#[test]
fn on_parasite_power_the_flag_turns_over_each_time_and_the_limits_are_as_before() {
    let rig = rig("parasite");
    let (mut bench, mut memory) = (bench(&rig), Memory::of(&rig));
    let limits = |bench: &mut dyn Bench| {
        sensors(&rig).iter().map(|sensor| bench.scratchpad(sensor.rom).unwrap()[2..5].to_vec()).collect::<Vec<_>>()
    };
    let before = limits(bench.as_mut());
    for (celsius, expected) in [(20, 320), (60, 960), (85, 1360), (20, 320)] {
        bench.set_ambient(&[0, 1], celsius * 1_000).unwrap();
        let samples = measure(&mut memory, bench.as_mut(), &rig);
        for sample in samples {
            assert_eq!((sample.sixteenths, sample.evidence), (expected, Evidence::Proven));
            assert!(!sample.doubts.contains(Doubt::PowerOnValue), "85 degC was measured");
        }
        assert_eq!(limits(bench.as_mut()), before);
    }
    for index in [0, 1] {
        assert_eq!(bench.eeprom_writes(index).unwrap(), 0);
    }
}

#[test]
fn the_rig_file_outweighs_an_answer_about_parasite_power() {
    let (parasite, mut local) = (rig("parasite"), rig("local"));
    // Sensors on their own supply answer so; the file says otherwise.
    let mut bench_of_local = bench(&local);
    assert_eq!(supply(bench_of_local.as_mut(), &parasite, Target::All), Ok(Supply::Parasite));
    assert_eq!(supply(bench_of_local.as_mut(), &local, Target::All), Ok(Supply::Local));
    // Where the file lists none, the answer counts.
    local.inventory.clear();
    assert_eq!(supply(bench(&parasite).as_mut(), &local, Target::All), Ok(Supply::Parasite));
}
