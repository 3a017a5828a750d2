//! The host while a request is carried out: it ends the request, or it is gone, and nothing stays closed either way.

use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::convert::Infallible;
use std::rc::Rc;

use embedded_hal::digital::{ErrorType, OutputPin};
use slotwise::bus::Target;
use slotwise::line::{NoStrongPullUp, PinLine, PullUpSwitch, SwitchLevel, Timing, Unmasked};
use slotwise::thermometer::Wait;
use slotwise_bridge::message::{DEAD_MAN_MS, LIFE_EVERY_MS, NoSession, Position, Request, Switch, TimingSet};
use slotwise_bridge::watch::{Watch, WatchedDelay, WatchedPin};
use slotwise_bridge::{
    Attended, Endpoint, Guard, Host, Incoming, Interlock, InterlockedPullUp, PinSwitch, Presence, RigSwitches, Service,
};
use slotwise_virtual_line::{LineConfig, PowerMode, SensorConfig, StrongPullUpPin, VirtualLine};

use crate::rig::{LineClock, LineWatch, Sampling, ds18b20};
use crate::talk::{Heard, IDENTITY, SESSION, alive, cancel, hear, hello, request};

/// What a host sends, by the time of the line.
#[derive(Clone, Default)]
struct Sends(Rc<RefCell<VecDeque<(u64, u8)>>>);

impl Sends {
    fn at_ms(&self, ms: u64, frame: &[u8]) {
        let mut all = self.0.borrow_mut();
        all.extend(frame.iter().map(|byte| (ms * 1_000_000, *byte)));
        all.make_contiguous().sort_by_key(|(at_ns, _)| *at_ns);
    }
}

struct Wire {
    line: VirtualLine,
    sends: Sends,
}

impl Incoming for Wire {
    fn receive(&mut self) -> Option<u8> {
        let mut sends = self.sends.0.borrow_mut();
        (sends.front()?.0 <= self.line.now_ns()).then(|| sends.pop_front()).flatten().map(|(_, byte)| byte)
    }
}

/// A watchdog that notes the longest time between two feeds.
#[derive(Clone)]
struct Watchdog {
    line: VirtualLine,
    fed_ns: Rc<Cell<u64>>,
    longest_ns: Rc<Cell<u64>>,
}

impl Guard for Watchdog {
    fn feed(&mut self) {
        let now_ns = self.line.now_ns();
        self.longest_ns.set(self.longest_ns.get().max(now_ns - self.fed_ns.replace(now_ns)));
    }
}

/// A pin that the test can see.
#[derive(Clone, Default)]
struct Pin(Rc<Cell<bool>>);

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set(true);
        Ok(())
    }
}

/// The pin of the strong pull-up, and where it is.
struct SeenPin {
    pin: StrongPullUpPin,
    high: Rc<Cell<bool>>,
}

impl ErrorType for SeenPin {
    type Error = Infallible;
}

impl OutputPin for SeenPin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.high.set(false);
        self.pin.set_low()
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.high.set(true);
        self.pin.set_high()
    }
}

type ThisHost = Host<Wire, Watchdog>;
type PullUp = InterlockedPullUp<'static, PullUpSwitch<SeenPin>>;
type ThisLine = PinLine<WatchedPin<&'static LineWatch>, WatchedDelay<&'static LineWatch>, Unmasked, PullUp>;
type ThisEndpoint = Endpoint<
    Attended<ThisLine, &'static ThisHost>,
    &'static LineWatch,
    RigSwitches<'static, Pin, Pin>,
    &'static ThisHost,
>;

/// A bridge with everything fitted, one sensor on parasite power, and its host.
struct Bridge {
    line: VirtualLine,
    sends: Sends,
    watchdog: Watchdog,
    supply: Pin,
    short: Pin,
    powered: Rc<Cell<bool>>,
    host: &'static ThisHost,
    endpoint: ThisEndpoint,
}

fn leaked<T>(value: T) -> &'static T {
    // Firmware keeps it for ever; a test may leave it behind.
    Box::leak(Box::new(value))
}

impl Bridge {
    /// With a session.
    fn greeted() -> Self {
        let config = LineConfig { strong_pull_up_ohm: Some(10), ..LineConfig::default() };
        let line = VirtualLine::new(config, 7).unwrap();
        line.attach(SensorConfig { power: PowerMode::Parasite, ..ds18b20(1) }).unwrap();
        let clock = LineClock::new(&line, 1_000_000_000, Sampling::Exact);
        let watch: &'static LineWatch = leaked(Watch::new(line.pin(), clock));
        let (fed_ns, longest_ns) = Default::default();
        let watchdog = Watchdog { line: line.clone(), fed_ns, longest_ns };
        let sends = Sends::default();
        let host = leaked(Host::new(Wire { line: line.clone(), sends: sends.clone() }, watchdog.clone()));
        let interlock = leaked(Interlock::new());
        let powered = Rc::new(Cell::new(false));
        let seen = SeenPin { pin: line.strong_pull_up_pin().unwrap(), high: Rc::clone(&powered) };
        let pull_up = PullUpSwitch::new(seen, SwitchLevel::High).unwrap();
        let pin_line: PinLine<_, _, Unmasked, NoStrongPullUp> =
            PinLine::new(WatchedPin(watch), WatchedDelay(watch), Timing::SHORT_LINE).unwrap();
        let pin_line = pin_line.with_strong_pull_up(interlock.pull_up(pull_up)).unwrap();
        let (supply, short) = (Pin(Rc::new(Cell::new(true))), Pin::default());
        let switch = |pin: &Pin| Some(PinSwitch::new(pin.clone(), SwitchLevel::High));
        let switches = RigSwitches::new(switch(&supply), switch(&short), interlock);
        let service = Service::new(IDENTITY, Attended::new(pin_line, host), watch, switches);
        let mut bridge =
            Self { line, sends, watchdog, supply, short, powered, host, endpoint: Endpoint::attended(service, host) };
        bridge.sends.at_ms(0, &hello(SESSION));
        assert!(matches!(bridge.heard()[..], [Heard::Welcome { .. }]));
        bridge
    }

    /// Takes all that has come by now, as the main loop does; what is answered.
    fn heard(&mut self) -> Vec<Heard> {
        let mut heard = vec![];
        while let Some(byte) = self.host.receive() {
            if let Some(frame) = self.endpoint.take(byte) {
                heard.push(hear(frame).1);
            }
        }
        heard
    }

    /// Serves until that time, a millisecond at a turn.
    fn until_ms(&mut self, ms: u64) -> Vec<Heard> {
        let mut heard = self.heard();
        while self.line.now_ns() < ms * 1_000_000 {
            self.line.advance_ns(1_000_000);
            heard.extend(self.heard());
            let _ = self.endpoint.idle();
        }
        heard
    }

    fn now_ms(&self) -> u64 {
        self.line.now_ns() / 1_000_000
    }

    fn is_powered(&self) -> bool {
        self.powered.get()
    }
}

const CONVERT: Request = Request::Convert { target: Target::All, wait: Wait::StrongPullUp, max_us: 2_000_000 };

#[test]
fn a_running_conversion_ends_within_20_ms_of_a_cancel_and_its_strong_pull_up_is_open() {
    let mut bridge = Bridge::greeted();
    bridge.sends.at_ms(1, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(300, &cancel(SESSION, 0));
    let heard = bridge.until_ms(1);
    let now_ms = bridge.now_ms();
    assert!((300..320).contains(&now_ms), "{now_ms} ms");
    assert_eq!(heard, [Heard::Cancelled]);
    assert!(!bridge.is_powered());
    // The same answer to the same number, and the session goes on.
    bridge.sends.at_ms(0, &cancel(SESSION, 0));
    bridge.sends.at_ms(0, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(0, &request(SESSION, 1, Request::Look));
    let heard = bridge.heard();
    assert!(matches!(heard[..], [Heard::Cancelled, Heard::Cancelled, Heard::Reply(_)]), "{heard:?}");
}

#[test]
fn a_conversion_that_is_not_ended_takes_its_time_and_feeds_the_watchdog() {
    let mut bridge = Bridge::greeted();
    bridge.sends.at_ms(1, &request(SESSION, 0, CONVERT));
    // None of these is its end.
    bridge.sends.at_ms(100, &alive(SESSION));
    bridge.sends.at_ms(110, &cancel(SESSION, 1));
    bridge.sends.at_ms(120, &cancel(SESSION + 1, 0));
    bridge.sends.at_ms(130, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(140, &hello(SESSION));
    bridge.sends.at_ms(150, &[1, 2, 3, 0, 9]);
    let heard = bridge.until_ms(1);
    assert!(matches!(heard[..], [Heard::Reply(_)]), "{heard:?}");
    assert!(bridge.now_ms() >= 2_000, "{} ms", bridge.now_ms());
    assert!(!bridge.is_powered());
    let longest_ms = bridge.watchdog.longest_ns.get() / 1_000_000;
    assert!(longest_ms <= 15, "{longest_ms} ms");
}

#[test]
fn a_frame_that_begins_during_a_request_is_completed_after_it() {
    let mut bridge = Bridge::greeted();
    let next = request(SESSION, 1, Request::Look);
    let (begin, end) = next.split_at(9);
    bridge.sends.at_ms(1, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(700, begin);
    bridge.sends.at_ms(2_500, end);
    let heard = bridge.until_ms(2_600);
    assert!(matches!(heard[..], [Heard::Reply(_), Heard::Reply(_)]), "{heard:?}");
}

#[test]
fn another_host_ends_the_request_of_the_one_before_and_is_welcome() {
    let mut bridge = Bridge::greeted();
    bridge.sends.at_ms(1, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(400, &hello(9));
    let heard = bridge.until_ms(1);
    assert!(matches!(heard[..], [Heard::Welcome { .. }]), "{heard:?}");
    assert!((400..420).contains(&bridge.now_ms()) && !bridge.is_powered(), "{} ms", bridge.now_ms());
    bridge.sends.at_ms(0, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(0, &request(9, 0, Request::Look));
    let heard = bridge.heard();
    assert!(matches!(heard[..], [Heard::NoSession(NoSession::TakenOver), Heard::Reply(_)]), "{heard:?}");
}

#[test]
fn a_host_that_is_silent_is_gone_and_every_switch_opens() {
    let mut bridge = Bridge::greeted();
    let close = Request::Throw { switch: Switch::Short, to: Position::Closed };
    bridge.sends.at_ms(1, &request(SESSION, 0, close));
    let heard = bridge.until_ms(u64::from(DEAD_MAN_MS) - 1);
    assert!(matches!(heard[..], [Heard::Reply(_)]), "{heard:?}");
    assert!(bridge.short.0.get() && bridge.supply.0.get(), "not too early");
    bridge.until_ms(u64::from(DEAD_MAN_MS) + 3);
    assert!(!bridge.short.0.get() && !bridge.supply.0.get() && !bridge.is_powered());
    bridge.sends.at_ms(0, &request(SESSION, 1, Request::Look));
    assert_eq!(bridge.heard(), [Heard::NoSession(NoSession::HostGone)]);
    assert_eq!(bridge.endpoint.idle(), Presence::Unchanged, "once");
}

#[test]
fn a_host_that_shows_it_is_there_keeps_its_switches_for_any_time() {
    let mut bridge = Bridge::greeted();
    let close = Request::Throw { switch: Switch::Short, to: Position::Closed };
    bridge.sends.at_ms(1, &request(SESSION, 0, close));
    for time in 1..30 {
        bridge.sends.at_ms(time * u64::from(LIFE_EVERY_MS), &alive(SESSION));
    }
    let heard = bridge.until_ms(30 * u64::from(LIFE_EVERY_MS));
    assert!(matches!(heard[..], [Heard::Reply(_)]), "no answer to a sign of life: {heard:?}");
    assert!(bridge.short.0.get() && bridge.supply.0.get());
    // The life of another does not count.
    for time in 30..40 {
        bridge.sends.at_ms(time * u64::from(LIFE_EVERY_MS), &alive(SESSION + 1));
    }
    bridge.until_ms(40 * u64::from(LIFE_EVERY_MS));
    assert!(!bridge.short.0.get() && !bridge.supply.0.get());
}

#[test]
fn a_host_that_goes_during_a_request_leaves_nothing_closed() {
    let mut bridge = Bridge::greeted();
    let begin_ms = u64::from(DEAD_MAN_MS) - 5;
    bridge.until_ms(begin_ms);
    bridge.sends.at_ms(0, &request(SESSION, 0, CONVERT));
    bridge.sends.at_ms(begin_ms + 1_000, &alive(SESSION));
    assert!(matches!(bridge.heard()[..], [Heard::Reply(_)]), "the request itself is a sign of life");
    let over_ms = bridge.now_ms();
    bridge.until_ms(over_ms + u64::from(DEAD_MAN_MS) - 10);
    assert!(bridge.supply.0.get(), "Alive during the request was one too");
    bridge.until_ms(over_ms + u64::from(DEAD_MAN_MS) + 3);
    assert!(!bridge.supply.0.get() && !bridge.is_powered());
}

#[test]
fn the_strong_pull_up_stays_open_while_the_line_is_shorted_by_the_switch() {
    let mut bridge = Bridge::greeted();
    // The pin of the short is seen and leads nowhere, so that the line itself goes on working and only the interlock is in the way.
    let close = Request::Throw { switch: Switch::Short, to: Position::Closed };
    bridge.sends.at_ms(0, &request(SESSION, 0, close));
    bridge.sends.at_ms(0, &request(SESSION, 1, Request::SetTiming(TimingSet::ShortLine)));
    bridge.sends.at_ms(0, &request(SESSION, 2, CONVERT));
    let heard = bridge.heard();
    let [_, _, Heard::Reply(reply)] = &heard[..] else { panic!("{heard:?}") };
    let text = format!("{:?}", reply.answer);
    assert!(text.contains("StrongPullUp(Pin"), "{text}");
    assert!(bridge.now_ms() < 100, "it was not powered for {} ms", bridge.now_ms());
}
