//! The image that plays sensors and listens, on the emulated chip, with a master on a pin of the line in the same virtual time.

use std::convert::Infallible;
use std::rc::Rc;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use slotwise::bus::{Bus, RomCode, Roster, SearchScope, Target};
use slotwise::line::{PinLine, Timing as MasterTiming};
use slotwise::thermometer::{FrameError, ReadError, Thermometer, Wait, convert};
use slotwise_bridge::play::{PlayAnswer, PlayRequest};
use slotwise_emulated_mcu::{
    Active, CHIP_NAME, ChipConfig, EmulatedMcu, PinAction, PinEvent, PinName, Port, SwitchPin, Wiring,
};
use slotwise_player::listen::{Decoder, Item};
use slotwise_player::{Course, Fault, Margins, Part, SensorConfig};
use slotwise_virtual_line::{JoinedPin, LineConfig, MasterPin, Recording, Signal, State, VirtualLine};

use crate::debug_probe::{SilentListener, TimeSource, attach, bring_up, open_rtt, packed_player};
use crate::link::Link;

type Mcu = EmulatedMcu<JoinedPin>;

/// The chip's time for the host.
#[derive(Clone)]
struct ChipTime(Rc<Mcu>);

impl TimeSource for ChipTime {
    fn now(&self) -> Duration {
        Duration::from_nanos(self.0.now_ns().unwrap())
    }

    fn pause(&self) {
        self.0.run_for_ns(125_000).unwrap();
    }
}

/// The master's pin and delay: a pin that joined the line, and the chip's time.
#[derive(Clone)]
struct Master(Rc<Mcu>);

impl ErrorType for Master {
    type Error = Infallible;
}

impl OutputPin for Master {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.with(|pin, _| pin.set_low()).unwrap()
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.with(|pin, _| pin.set_high()).unwrap()
    }
}

impl InputPin for Master {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        self.0.with(|pin, _| pin.is_high()).unwrap()
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl DelayNs for Master {
    fn delay_ns(&mut self, ns: u32) {
        self.0.run_for_ns(u64::from(ns)).unwrap();
    }

    fn delay_us(&mut self, us: u32) {
        self.0.run_for_ns(u64::from(us) * 1_000).unwrap();
    }

    fn delay_ms(&mut self, ms: u32) {
        self.0.run_for_ns(u64::from(ms) * 1_000_000).unwrap();
    }
}

/// A chip with the player's image, its session, and what its data pin did.
struct Scene {
    mcu: Rc<Mcu>,
    link: Link,
    drives: Arc<Mutex<Vec<(u64, PinAction)>>>,
}

impl Scene {
    fn new(serial: &str) -> Self {
        let switch = |number, active| Some(SwitchPin { pin: PinName::new(Port::B, number), active });
        let wiring = Wiring {
            data: PinName::new(Port::B, 6),
            strong_pull_up: None,
            supply_switch: switch(8, Active::Low),
            short_switch: switch(9, Active::High),
        };
        let drives = Arc::new(Mutex::new(Vec::new()));
        let sink = Arc::clone(&drives);
        let mut config = ChipConfig::new(1, wiring);
        config.serial = serial.into();
        config.on_pin_event = Some(Box::new(move |PinEvent { at_ns, what }| {
            if matches!(what, PinAction::DriveLow | PinAction::Release) {
                sink.lock().unwrap().push((at_ns, what));
            }
        }));
        let build = || {
            let line = VirtualLine::new(LineConfig::default(), 1).unwrap();
            let pin = line.join(MasterPin::default()).unwrap();
            Ok::<_, Infallible>((line, pin))
        };
        let mcu = Rc::new(EmulatedMcu::start(config, build).unwrap());
        let image = packed_player(CHIP_NAME).unwrap();
        let mut attached = attach(mcu.debug_probe(), CHIP_NAME, None).unwrap();
        bring_up(&mut attached, &image, &mut SilentListener).unwrap();
        let carrier = open_rtt(attached, &image, ChipTime(Rc::clone(&mcu))).unwrap();
        let link = Link::open(Box::new(carrier), 1).unwrap();
        mcu.with(|_, line| line.record(Recording::default())).unwrap();
        Self { mcu, link, drives }
    }

    fn bus(&self) -> Bus<PinLine<Master, Master>> {
        let master = Master(Rc::clone(&self.mcu));
        Bus::new(PinLine::new(master.clone(), master, MasterTiming::LONG_LINE).unwrap())
    }

    fn add(&mut self, config: SensorConfig) -> u8 {
        match self.link.play(&PlayRequest::Add(config)).unwrap() {
            PlayAnswer::Add(index) => index.unwrap(),
            other => panic!("{other:?}"),
        }
    }

    fn margins(&mut self) -> Margins {
        match self.link.play(&PlayRequest::Margins { clear: true }).unwrap() {
            PlayAnswer::Margins(margins) => margins,
            other => panic!("{other:?}"),
        }
    }

    /// The line's edges as the virtual line recorded them, and since when.
    fn edges(&self) -> Vec<(u64, bool)> {
        self.mcu
            .with(|_, line| {
                let waveform = line.waveform().unwrap();
                waveform.of(Signal::Line).map(|edge| (edge.at_ns, edge.to == State::High)).collect()
            })
            .unwrap()
    }
}

/// How the chip's pin followed the line: least and most of each time of the sensor, in nanoseconds.
#[derive(Debug, Default)]
struct Followed {
    /// From the falling edge of a slot to the drive of a 0.
    answer: Vec<u64>,
    /// From there to the release.
    hold: Vec<u64>,
    /// From the rise after a reset to the presence pulse, and its length.
    presence_delay: Vec<u64>,
    presence_width: Vec<u64>,
}

fn followed(edges: &[(u64, bool)], drives: &[(u64, PinAction)]) -> Followed {
    let mut all = Followed::default();
    for pair in drives.windows(2) {
        let [(low_ns, PinAction::DriveLow), (release_ns, PinAction::Release)] = *pair else { continue };
        let before = edges.partition_point(|(at_ns, _)| *at_ns <= low_ns);
        // The last edge that the chip did not make itself: a fall within the slot, or the rise after a reset.
        match edges[..before].last() {
            Some(&(fell_ns, false)) if low_ns > fell_ns + 5 => {
                all.answer.push(low_ns - fell_ns);
                all.hold.push(release_ns - fell_ns);
            }
            Some(&(rose_ns, true)) => {
                all.presence_delay.push(low_ns - rose_ns);
                all.presence_width.push(release_ns - low_ns);
            }
            _ => {}
        }
    }
    all
}

fn spread(times: &[u64]) -> (u64, u64) {
    (times.iter().copied().min().unwrap_or(0), times.iter().copied().max().unwrap_or(0))
}

#[test]
fn the_driver_reads_twenty_sensors_that_the_chip_plays_and_every_edge_is_in_its_window() {
    let mut scene = Scene::new("played-crowd");
    let set: Vec<SensorConfig> = (0..20_i16)
        .map(|number| {
            let part = Part::ALL[number.unsigned_abs() as usize % Part::ALL.len()];
            let conversion_us = [5_000, 10_000, 20_000, 40_000];
            let serial = 0x1357 * u64::from(number.unsigned_abs());
            SensorConfig { sixteenths: 17 * number - 160, conversion_us, ..SensorConfig::new(part, serial) }
        })
        .collect();
    for config in &set {
        scene.add(*config);
    }
    scene.drives.lock().unwrap().clear();
    let mut bus = scene.bus();
    let began = (scene.mcu.now_ns().unwrap(), std::time::Instant::now());
    let mut roster = Roster::<32>::new();
    bus.find(&mut roster, SearchScope::All).unwrap();
    assert_eq!(roster.iter().count(), 20);
    let receipt = convert(&mut bus, Target::All, Wait::Poll, 750_000).unwrap().receipt;
    for config in &set {
        let rom = RomCode::new(config.rom.0).unwrap();
        let reading = Thermometer::new(rom).unwrap().read(&mut bus, &receipt).unwrap();
        assert_eq!(reading.temperature.sixteenths(), config.sixteenths, "{config:?}");
    }
    let virtual_s = (scene.mcu.now_ns().unwrap() - began.0) as f64 / 1e9;
    println!("{virtual_s:.2} virtual s in {:.2} s", began.1.elapsed().as_secs_f64());
    let followed = followed(&scene.edges(), &scene.drives.lock().unwrap());
    println!("answer {:?} ns, {} zeros", spread(&followed.answer), followed.answer.len());
    println!("release of a 0 {:?} ns", spread(&followed.hold));
    println!("presence after {:?} ns for {:?} ns", spread(&followed.presence_delay), spread(&followed.presence_width));
    let margins = scene.margins();
    println!("{margins:?}");
    // DS18B20 (7/19) AC table and Figure 16: the master samples up to 15 us after the edge, a 0 is held until then and let go by 60 us;
    // tPDHIGH 15 to 60 us, tPDLOW 60 to 240 us.
    assert!(followed.answer.len() > 1_000);
    assert!(spread(&followed.answer).1 < 5_000, "{:?}", spread(&followed.answer));
    let inside = |times: &[u64], least, most| {
        let (first, last) = spread(times);
        assert!(first >= least && last <= most, "{first} to {last} outside {least} to {most}");
    };
    inside(&followed.hold, 15_000, 60_000);
    inside(&followed.presence_delay, 15_000, 60_000);
    inside(&followed.presence_width, 60_000, 240_000);
    assert!(margins.reset_low.least >= 480 * 72 - 72 && margins.low_0.least >= 60 * 72 - 72, "{margins:?}");
}

#[test]
fn a_fault_and_a_temperature_are_set_while_the_line_lives() {
    let mut scene = Scene::new("played-fault");
    let config = SensorConfig { conversion_us: [5_000; 4], ..SensorConfig::new(Part::Ds18b20, 5) };
    let index = scene.add(config);
    let mut bus = scene.bus();
    let rom = RomCode::new(config.rom.0).unwrap();
    let thermometer = Thermometer::new(rom).unwrap();
    for sixteenths in [-880, -1, 0, 401, 2_000] {
        let set = scene.link.play(&PlayRequest::SetTemperature { index, sixteenths }).unwrap();
        assert_eq!(set, PlayAnswer::Changed(Ok(())));
        let receipt = convert(&mut bus, Target::One(rom), Wait::Poll, 750_000).unwrap().receipt;
        assert_eq!(thermometer.read(&mut bus, &receipt).unwrap().temperature.sixteenths(), sixteenths);
    }
    let fault = PlayRequest::Play { sensors: 1, fault: Fault::FlippedBit { bit: 3 }, course: Course::Once };
    let PlayAnswer::Play(Ok(id)) = scene.link.play(&fault).unwrap() else { panic!("it is played") };
    assert!(matches!(thermometer.read_scratchpad(&mut bus), Err(ReadError::Frame(FrameError::Crc { .. }))));
    thermometer.read_scratchpad(&mut bus).unwrap();
    assert_eq!(scene.link.play(&PlayRequest::CountPlayed(id)).unwrap(), PlayAnswer::Played(Some(1)));
    let PlayAnswer::Transactions(report) = scene.link.play(&PlayRequest::Transactions).unwrap() else { panic!() };
    assert_eq!(report.list.len(), 4);
    println!("late edges {}, lost {}", report.late_edges, report.lost);
    // A master's request is refused by name.
    let refused = scene.link.ask(&slotwise_bridge::message::Request::Look, Duration::ZERO);
    assert_eq!(refused.unwrap_err(), crate::link::LinkError::OtherRole);
}

#[test]
fn what_the_chip_hears_is_what_the_virtual_line_recorded_edge_for_edge() {
    let mut scene = Scene::new("heard");
    let other = slotwise_virtual_line::SensorConfig::new(slotwise_virtual_line::Part::Ds18b20, 5);
    let rom = RomCode::new(other.rom.bytes()).unwrap();
    scene.mcu.with(move |_, line| line.attach(other).map(|_| ())).unwrap().unwrap();
    let PlayAnswer::Listen(Some(listening)) = scene.link.play(&PlayRequest::Listen).unwrap() else { panic!() };
    scene.drives.lock().unwrap().clear();
    scene.mcu.run_for_ns(2_000_000).unwrap();
    let mut bus = scene.bus();
    let mut bytes = scene.link.take_edges().unwrap();
    let started = scene.edges().len();
    for _ in 0..10 {
        Thermometer::new(rom).unwrap().read_scratchpad(&mut bus).unwrap();
        bytes.extend(scene.link.take_edges().unwrap());
    }
    scene.mcu.run_for_ns(2_000_000).unwrap();
    bytes.extend(scene.link.take_edges().unwrap());
    let mut decoder = Decoder::new();
    let items: Vec<Item> = bytes.iter().filter_map(|byte| decoder.push(*byte).unwrap()).collect();
    let unit_ns = f64::from(listening.unit_ticks) * 1e9 / f64::from(listening.tick_hz);
    let heard: Vec<(f64, bool)> = items
        .iter()
        .filter_map(|item| match item {
            Item::Edge { at, high } => Some((*at as f64 * unit_ns, *high)),
            _ => None,
        })
        .collect();
    let recorded = scene.edges();
    let recorded = &recorded[started..];
    assert_eq!(heard.len(), recorded.len());
    assert!(heard.len() > 2_000);
    let offset = recorded[0].0 as f64 - heard[0].0;
    let mut worst: (f64, f64) = (0.0, 0.0);
    for (heard, recorded) in heard.iter().zip(recorded) {
        assert_eq!(heard.1, recorded.1);
        let error = heard.0 + offset - recorded.0 as f64;
        worst = (worst.0.min(error), worst.1.max(error));
    }
    let edge_bytes = bytes.len() as f64 / heard.len() as f64;
    println!("{} edges, {edge_bytes:.3} bytes an edge, errors {worst:?} ns, unit {unit_ns} ns", heard.len());
    // The unit, and the looks: an edge is found late by up to what the core does between two of them.
    assert!(worst.1 - worst.0 < 2_000.0, "{worst:?}");
    assert!(scene.drives.lock().unwrap().is_empty(), "a listener does not drive");
}
