//! Conversions: the three ways of waiting give the same outcome side by side, and no wait is endless.

use std::cell::RefCell;
use std::pin::pin;
use std::rc::Rc;
use std::task::{Context, Poll, Waker};

use crate::common::{ArbitraryLine, SlotLine, rom};
use proptest::prelude::*;
use slotwise::bus::{Bus, Target};
use slotwise::line::{Line, LineError, Presence, SwitchError};
use slotwise::thermometer::{
    AlarmLimits, Conversion, ConvertError, Converted, Evidence, FrameError, ReadError, Receipt, Resolution, Round,
    Settings, Thermometer, Wait, convert, supply,
};

/// An async delay that is pending once per wait and notes how long it was to wait.
#[derive(Clone, Default)]
struct Ticks(Rc<RefCell<Vec<u64>>>);

impl embedded_hal_async::delay::DelayNs for Ticks {
    async fn delay_ns(&mut self, ns: u32) {
        self.0.borrow_mut().push(u64::from(ns));
        let mut pending = true;
        std::future::poll_fn(|_| if std::mem::take(&mut pending) { Poll::Pending } else { Poll::Ready(()) }).await;
    }

    // The default splits long waits; here they are noted whole.
    async fn delay_us(&mut self, us: u32) {
        self.0.borrow_mut().push(u64::from(us) * 1000);
        let mut pending = true;
        std::future::poll_fn(|_| if std::mem::take(&mut pending) { Poll::Pending } else { Poll::Ready(()) }).await;
    }
}

fn line(busy_slots: u32) -> SlotLine {
    let mut line = SlotLine::of([rom(0x28, [1; 6])]);
    line.sensors[0].busy_slots = busy_slots;
    line.has_pull_up = true;
    line
}

type Outcome = Result<Converted, ConvertError<std::convert::Infallible>>;

fn known(outcome: &Outcome) -> (Evidence, Option<u32>) {
    let Converted { receipt, busy_us, .. } = outcome.unwrap();
    (receipt.evidence(), busy_us)
}

fn blocking(line: SlotLine, target: Target, wait: Wait) -> (Outcome, u64) {
    let mut bus = Bus::new(line);
    let outcome = convert(&mut bus, target, wait, 750_000);
    (outcome, bus.release().waited_us)
}

fn by_nb(line: SlotLine, target: Target, wait: Wait) -> (Outcome, u64) {
    let mut bus = Bus::new(line);
    let mut conversion = match Conversion::start(&mut bus, target, wait, 750_000) {
        Ok(conversion) => conversion,
        Err(error) => return (Err(error), 0),
    };
    let (mut elapsed_us, mut waited_us) = (0, 0);
    loop {
        match conversion.poll(&mut bus, elapsed_us) {
            Err(nb::Error::WouldBlock) => {
                // A caller that comes round every millisecond.
                elapsed_us = 1_000;
                waited_us += 1_000;
            }
            Err(nb::Error::Other(error)) => return (Err(error), waited_us),
            Ok(converted) => return (Ok(converted), waited_us),
        }
    }
}

fn by_async(line: SlotLine, target: Target, wait: Wait) -> (Outcome, u64) {
    let mut bus = Bus::new(line);
    let ticks = Ticks::default();
    let conversion = match Conversion::start(&mut bus, target, wait, 750_000) {
        Ok(conversion) => conversion,
        Err(error) => return (Err(error), 0),
    };
    let outcome = {
        let mut delay = ticks.clone();
        let mut future = pin!(conversion.wait_async(&mut bus, &mut delay));
        loop {
            if let Poll::Ready(outcome) = future.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
                break outcome;
            }
        }
    };
    let waited_us = ticks.0.borrow().iter().sum::<u64>() / 1000;
    (outcome, waited_us)
}

#[test]
fn blocking_nb_and_async_agree() {
    let one = Target::One(rom(0x28, [1; 6]));
    for target in [Target::All, one] {
        for wait in [Wait::Poll, Wait::Time, Wait::StrongPullUp, Wait::PollAndTime] {
            for busy in [0, 1, 600, 5_000] {
                let outcome = blocking(line(busy), target, wait);
                let (by_nb, nb_us) = by_nb(line(busy), target, wait);
                // Its loop comes round every millisecond.
                let late = |error| match error {
                    ConvertError::StillBusy { waited_us } => {
                        ConvertError::StillBusy { waited_us: waited_us.div_ceil(1_000) * 1_000 }
                    }
                    other => other,
                };
                assert_eq!(outcome.0.map_err(late), by_nb, "{wait:?} {busy}");
                assert_eq!(outcome.1.div_ceil(1_000) * 1_000, nb_us, "{wait:?} {busy}");
                assert_eq!(outcome, by_async(line(busy), target, wait), "{wait:?} {busy}");
            }
        }
    }
}

#[test]
fn a_poll_takes_as_long_as_the_sensor_and_says_that_its_end_is_not_proven() {
    let one = Target::One(rom(0x28, [1; 6]));
    let (outcome, waited_us) = blocking(line(600), one, Wait::Poll);
    // The slots that read busy took five of the 600.
    assert_eq!(known(&outcome), (Evidence::Polled, Some(595_000)));
    assert_eq!(waited_us, 595_000);
    let (outcome, _) = blocking(line(600), Target::All, Wait::Poll);
    assert_eq!(known(&outcome).0, Evidence::Polled, "of many, each is taken on trust");
}

/// 750 ms and 1/32 of it: a master whose clock is fast by 3 % waits 750 ms by a right one.
const LONGEST_WITH_MARGIN_US: u64 = 773_437;

#[test]
fn what_is_polled_and_waited_for_is_seen_busy() {
    let one = Target::One(rom(0x28, [1; 6]));
    let (outcome, waited_us) = blocking(line(600), one, Wait::PollAndTime);
    assert_eq!(known(&outcome), (Evidence::SeenBusy, Some(595_000)));
    assert_eq!(waited_us, LONGEST_WITH_MARGIN_US);
    let (outcome, waited_us) = blocking(line(600), Target::All, Wait::PollAndTime);
    assert_eq!(known(&outcome).0, Evidence::Waited, "of many, each is taken on trust");
    assert_eq!(waited_us, LONGEST_WITH_MARGIN_US);
    // Done later than the longest time: nothing is left to wait for.
    let (outcome, waited_us) = blocking(line(805), one, Wait::Poll);
    assert_eq!((known(&outcome), waited_us), ((Evidence::SeenBusy, Some(800_000)), 800_000));
}

#[test]
fn a_wait_by_time_waits_the_datasheet_maximum_and_the_margin_of_a_clock() {
    for wait in [Wait::Time, Wait::StrongPullUp] {
        let (outcome, waited_us) = blocking(line(0), Target::All, wait);
        assert_eq!(known(&outcome), (Evidence::Waited, None));
        assert_eq!(waited_us, LONGEST_WITH_MARGIN_US);
    }
}

#[test]
fn sensors_that_do_not_convert_are_named() {
    assert_eq!(blocking(line(0), Target::All, Wait::Poll).0, Err(ConvertError::NotStarted));
    // Slower than the datasheet: 937.5 ms is a quarter over the maximum.
    let (outcome, _) = blocking(line(5_000), Target::All, Wait::Poll);
    assert_eq!(outcome, Err(ConvertError::StillBusy { waited_us: 938_000 }));
    assert_eq!(blocking(line(1), Target::All, Wait::Time).0, Err(ConvertError::StillBusy { waited_us: 773_437 }));
}

/// Whether the sensor is busy is read with Convert T and not when the loop comes round.
#[test]
fn a_loop_that_comes_back_late_loses_nothing() {
    let mut bus = Bus::new(line(600));
    let one = Target::One(rom(0x28, [1; 6]));
    let mut conversion = Conversion::start(&mut bus, one, Wait::Poll, 750_000).unwrap();
    // Seconds later the sensor has long been done.
    for _ in 0..600 {
        bus.line().slot(true).unwrap();
    }
    let converted = conversion.poll(&mut bus, 3_000_000).unwrap();
    assert_eq!(known(&Ok(converted)), (Evidence::SeenBusy, Some(3_000_000)));
}

#[test]
fn a_receipt_is_of_one_conversion_and_of_its_sensors() {
    let (first, second) = (rom(0x28, [1; 6]), rom(0x28, [2; 6]));
    let mut line = SlotLine::of([first, second]);
    line.sensors.iter_mut().for_each(|sensor| sensor.busy_slots = 9);
    let mut bus = Bus::new(line);
    let sensors = [first, second].map(|rom| Thermometer::new(rom).unwrap());
    let one = convert(&mut bus, Target::One(first), Wait::PollAndTime, 750_000).unwrap().receipt;
    assert_eq!(sensors[0].read(&mut bus, &one).unwrap().evidence, Evidence::SeenBusy);
    assert_eq!(sensors[1].read(&mut bus, &one), Err(ReadError::OtherReceipt), "of the other sensor");
    let all = convert(&mut bus, Target::All, Wait::PollAndTime, 750_000).unwrap().receipt;
    assert_eq!(sensors[0].read(&mut bus, &one), Err(ReadError::OtherReceipt), "of the conversion before");
    for sensor in sensors {
        assert_eq!(sensor.read(&mut bus, &all).unwrap().evidence, Evidence::Waited);
    }
    let round = Round::begin(&mut bus);
    assert_eq!(sensors[0].read(&mut bus, &all), Err(ReadError::OtherReceipt), "a round has begun");
    let started = round.start(&mut bus, second).unwrap();
    let over = round.wait(&mut bus, 750_000).unwrap();
    assert_eq!(sensors[1].read(&mut bus, &over.receipt(started)).unwrap().evidence, Evidence::SeenBusy);
    assert_eq!(sensors[0].read(&mut bus, &over.receipt(started)), Err(ReadError::OtherReceipt));
    assert_eq!(sensors[0].read(&mut bus, &Receipt::NONE).unwrap().evidence, Evidence::None, "a reading without one");
}

#[test]
fn a_conversion_that_another_has_followed_is_superseded() {
    let mut bus = Bus::new(line(3_000));
    let one = Target::One(rom(0x28, [1; 6]));
    let mut first = Conversion::start(&mut bus, one, Wait::Poll, 750_000).unwrap();
    let round = Round::begin(&mut bus);
    assert_eq!(first.advance(&mut bus, 0), Err(ConvertError::Superseded));
    let _ = Conversion::start(&mut bus, one, Wait::Poll, 750_000).unwrap();
    assert_eq!(round.start(&mut bus, rom(0x28, [1; 6])), Err(ConvertError::Superseded));
}

#[test]
fn a_round_waits_for_the_sensor_that_was_started_last() {
    let mut bus = Bus::new(line(9));
    let round = Round::begin(&mut bus);
    let started = round.start(&mut bus, rom(0x28, [1; 6])).unwrap();
    assert_eq!(round.start(&mut bus, rom(0x28, [2; 6])), Err(ConvertError::NotStarted), "it is not there");
    assert_eq!(round.poll(&mut bus, 773_436, 750_000), Err(nb::Error::WouldBlock));
    let before = bus.line().waited_us;
    let over = round.wait(&mut bus, 750_000).unwrap();
    assert_eq!(bus.line().waited_us - before, LONGEST_WITH_MARGIN_US);
    let another = Round::begin(&mut bus).wait(&mut bus, 750_000).unwrap();
    assert_eq!(over.receipt(started).evidence(), Evidence::SeenBusy);
    let sensor = Thermometer::new(rom(0x28, [1; 6])).unwrap();
    assert_eq!(sensor.read(&mut bus, &another.receipt(started)), Err(ReadError::OtherReceipt), "of another round");
}

#[test]
fn a_round_that_is_polled_is_over_after_the_longest_time_and_only_once() {
    let mut bus = Bus::new(line(9));
    let round = Round::begin(&mut bus);
    let started = round.start(&mut bus, rom(0x28, [1; 6])).unwrap();
    let over = round.poll(&mut bus, 773_437, 750_000).unwrap();
    let sensor = Thermometer::new(rom(0x28, [1; 6])).unwrap();
    assert_eq!(sensor.read(&mut bus, &over.receipt(started)).unwrap().evidence, Evidence::SeenBusy);
    assert_eq!(round.poll(&mut bus, 773_437, 750_000), Err(nb::Error::Other(ConvertError::Superseded)));
    assert_eq!(round.wait(&mut bus, 750_000), Err(ConvertError::Superseded));
}

#[test]
fn parasite_power_without_a_strong_pull_up_is_refused() {
    let mut line = line(3);
    line.has_pull_up = false;
    let refused = convert(&mut Bus::new(line), Target::All, Wait::StrongPullUp, 750_000);
    assert_eq!(
        refused,
        Err(ConvertError::Select(slotwise::bus::SelectError::Line(LineError::StrongPullUp(SwitchError::Missing))))
    );
}

#[test]
fn a_dropped_future_opens_the_strong_pull_up() {
    let mut bus = Bus::new(line(3));
    let conversion = Conversion::start(&mut bus, Target::All, Wait::StrongPullUp, 750_000).unwrap();
    assert!(bus.line().powered);
    {
        let mut delay = Ticks::default();
        let mut future = pin!(conversion.wait_async(&mut bus, &mut delay));
        assert!(future.as_mut().poll(&mut Context::from_waker(Waker::noop())).is_pending());
    }
    assert!(!bus.line().powered);
}

#[test]
fn a_future_that_is_dropped_before_its_first_poll_opens_the_strong_pull_up() {
    let mut bus = Bus::new(line(3));
    let conversion = Conversion::start(&mut bus, Target::All, Wait::StrongPullUp, 750_000).unwrap();
    let mut delay = Ticks::default();
    drop(conversion.wait_async(&mut bus, &mut delay));
    assert!(!bus.line().powered);
}

#[test]
fn a_missing_sensor_is_no_number() {
    let mut bus = Bus::new(line(3));
    let missing = Thermometer::new(rom(0x28, [2; 6])).unwrap();
    assert_eq!(missing.read(&mut bus, &Receipt::NONE), Err(ReadError::Frame(FrameError::NoAnswer)));
}

proptest! {
    #[test]
    fn no_answers_of_a_line_make_the_driver_panic_or_hang(answers in proptest::collection::vec(any::<u8>(), 1..300)) {
        let mut bus = Bus::new(ArbitraryLine { answers, at: 0, slots: 0 });
        let limits = AlarmLimits { low: -10, high: 30 };
        for family in [0x10, 0x22, 0x28, 0x3B, 0x42] {
            let sensor = Thermometer::new(rom(family, [9; 6])).unwrap();
            let resolution = sensor.family().has_resolution().then_some(Resolution::Bits10);
            let _ = supply(&mut bus, Target::All);
            let _ = sensor.read(&mut bus, &Receipt::NONE);
            let _ = sensor.write(&mut bus, Settings { limits, resolution });
            let _ = sensor.save(&mut bus);
            let _ = sensor.recall(&mut bus);
            for wait in [Wait::Poll, Wait::Time, Wait::StrongPullUp, Wait::PollAndTime] {
                let _ = convert(&mut bus, Target::All, wait, 750_000);
                let _ = sensor.convert_proven(&mut bus, wait, 750_000);
            }
            let round = Round::begin(&mut bus);
            let _ = round.start(&mut bus, sensor.rom());
            let _ = bus.read_rom();
            let _ = bus.is_present(sensor.rom());
        }
        // Five families, none of which may take more than a few thousand slots.
        prop_assert!(bus.release().slots < 100_000);
    }
}

/// A line on which one slot is read wrong.
struct OneWrong {
    line: SlotLine,
    slot: usize,
    wrong: usize,
}

impl Line for OneWrong {
    type Error = core::convert::Infallible;

    fn reset(&mut self) -> Result<Presence, LineError<Self::Error>> {
        self.line.reset()
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<Self::Error>> {
        let read = self.line.slot(bit)?;
        self.slot += 1;
        Ok(read ^ (self.slot == self.wrong))
    }

    fn delay_us(&mut self, us: u32) {
        self.line.delay_us(us);
    }

    fn slot_us(&self) -> u32 {
        self.line.slot_us()
    }
}

/// No CRC guards a slot that asks for the state: an old number must not pass for a new one because of a single wrong bit.
#[test]
fn one_wrong_slot_ends_no_conversion_and_begins_none() {
    // Eight slots of Match ROM, 64 of the ROM code, eight of Convert T.
    let first = 8 + 64 + 8 + 1;
    let one = Target::One(rom(0x28, [1; 6]));
    for wrong in first..first + 120 {
        let mut bus = Bus::new(OneWrong { line: line(100), slot: 0, wrong });
        let converted = convert(&mut bus, one, Wait::Poll, 750_000).unwrap();
        let busy_us = converted.busy_us.unwrap();
        assert!((92_000..=101_000).contains(&busy_us), "slot {wrong}: {busy_us} us");
        let mut bus = Bus::new(OneWrong { line: line(0), slot: 0, wrong });
        let idle = convert(&mut bus, one, Wait::Poll, 750_000);
        assert_eq!(idle.unwrap_err(), ConvertError::NotStarted, "slot {wrong}");
    }
}
