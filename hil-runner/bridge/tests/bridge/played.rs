//! A bridge that plays: its sessions, and what it refuses.

use slotwise_bridge::frame::{Body, FrameReader, Kind, MAX_FRAME, Received, write_frame};
use slotwise_bridge::message::{Carrier, Hello, Master, Position, Refusal, Request, ResetCause, Switch, SwitchFault};
use slotwise_bridge::play::{PlayAnswer, PlayEndpoint, PlayRequest, Stage, Transactions, stage_clock};
use slotwise_bridge::{Identity, NoSwitches};
use slotwise_player::listen::Room;
use slotwise_player::{
    ClockError, Input, Margins, Part, Player, Port, SensorConfig, SensorError, Spread, Timing, Transaction,
};

use crate::talk::{SESSION, header};

/// A line that stays high.
struct High(u32);

impl Input for High {
    fn is_low(&mut self) -> bool {
        false
    }

    fn ticks(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(72_000);
        self.0
    }
}

impl Port for High {
    fn drive_low(&mut self) {
        panic!("a line that is not addressed is not driven");
    }

    fn release(&mut self) {}
}

/// A channel with room.
#[derive(Default)]
struct Plenty(Vec<u8>);

impl Room for Plenty {
    fn free(&self) -> usize {
        4_096
    }

    fn push(&mut self, byte: u8) {
        self.0.push(byte);
    }
}

type Endpoint<'p> = PlayEndpoint<'p, High, Plenty, NoSwitches>;

fn endpoint(hz: u32, player: &mut Player) -> Endpoint<'_> {
    let identity = Identity {
        version: "1",
        driver: "1",
        chip: "STM32F103",
        master: Master::Pin,
        carrier: Carrier::InProcess,
        core_hz: hz,
        tick_hz: hz,
        strong_pull_up: false,
        reset: ResetCause::Power,
    };
    PlayEndpoint::new(identity, Stage::new(hz, player, High(0), Plenty::default(), NoSwitches))
}

/// What comes back to a frame.
fn say<R>(
    endpoint: &mut Endpoint<'_>,
    kind: Kind,
    sequence: u16,
    message: &impl serde::Serialize,
    read: impl Fn(Body<'_>) -> R,
) -> R {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header(kind, SESSION, sequence), message, &mut frame).unwrap();
    let answer = frame.iter().find_map(|byte| endpoint.take(*byte).map(<[u8]>::to_vec)).expect("an answer");
    let mut reader = FrameReader::new();
    for byte in answer {
        match reader.push(byte) {
            Some(Received::Frame(body)) => return read(body),
            Some(other) => panic!("{other:?}"),
            None => {}
        }
    }
    panic!("no whole frame");
}

fn play(endpoint: &mut Endpoint<'_>, sequence: u16, request: PlayRequest) -> PlayAnswer {
    say(endpoint, Kind::Play, sequence, &request, |body| {
        assert_eq!(body.header.kind, Kind::Played);
        body.message().unwrap()
    })
}

fn greet(endpoint: &mut Endpoint<'_>) {
    say(endpoint, Kind::Hello, 0, &Hello { version: "1" }, |body| assert_eq!(body.header.kind, Kind::Welcome));
}

#[test]
fn a_request_that_comes_twice_is_carried_out_once() {
    let mut player = Player::new(stage_clock(72_000_000), Timing::typical());
    let mut endpoint = endpoint(72_000_000, &mut player);
    greet(&mut endpoint);
    let add = PlayRequest::Add(SensorConfig::new(Part::Ds18b20, 1));
    assert_eq!(play(&mut endpoint, 0, add), PlayAnswer::Add(Ok(0)));
    assert_eq!(play(&mut endpoint, 0, add), PlayAnswer::Add(Ok(0)));
    assert_eq!(
        play(&mut endpoint, 1, PlayRequest::Remove(1)),
        PlayAnswer::Changed(Err(SensorError::Unknown { index: 1 }))
    );
    let throw = PlayRequest::Throw { switch: Switch::Short, to: Position::Closed };
    assert_eq!(play(&mut endpoint, 2, throw), PlayAnswer::Throw(Err(SwitchFault::NotFitted)));
}

#[test]
fn a_request_of_a_master_is_refused_by_its_kind() {
    let mut player = Player::new(stage_clock(72_000_000), Timing::typical());
    let mut endpoint = endpoint(72_000_000, &mut player);
    greet(&mut endpoint);
    say(&mut endpoint, Kind::Request, 0, &Request::Look, |body| {
        assert_eq!(body.beginning(), Some(Refusal::UnknownKind { kind: Kind::Request as u8 }));
    });
    assert_eq!(play(&mut endpoint, 0, PlayRequest::PowerCycle), PlayAnswer::PowerCycle, "the number is still free");
}

#[test]
fn a_core_under_48_mhz_plays_nothing_and_says_why() {
    let mut player = Player::new(stage_clock(8_000_000), Timing::typical());
    let mut endpoint = endpoint(8_000_000, &mut player);
    greet(&mut endpoint);
    let too_slow = PlayAnswer::TooSlow(ClockError::TooSlow { hz: 8_000_000 });
    assert_eq!(play(&mut endpoint, 0, PlayRequest::Add(SensorConfig::new(Part::Ds18b20, 1))), too_slow);
    assert_eq!(play(&mut endpoint, 1, PlayRequest::Clear), too_slow);
    let PlayAnswer::Listen(Some(listening)) = play(&mut endpoint, 2, PlayRequest::Listen) else { panic!("it listens") };
    assert_eq!((listening.unit_ticks, listening.tick_hz), (2, 8_000_000));
    assert_eq!(play(&mut endpoint, 3, PlayRequest::PowerCycle), PlayAnswer::OtherRole);
}

#[test]
fn the_longest_answers_fit_into_a_frame() {
    let transaction = Transaction {
        at_ticks: u64::MAX,
        reset_ticks: u32::MAX,
        rom_command: Some(0xFF),
        rom: [0xFF; 8],
        rom_bits: 64,
        function: Some(0xFF),
        written: [0xFF; 3],
        written_bytes: 3,
        addressed: u32::MAX,
        answered: u16::MAX,
        faults: u16::MAX,
        not_played: true,
    };
    let list = [transaction; 4].into_iter().collect();
    let spread = Spread { least: u32::MAX, most: u32::MAX, count: u32::MAX };
    let margins = Margins {
        reset_low: spread,
        reset_high: spread,
        low_0: spread,
        low_1: spread,
        read_low: spread,
        recovery: spread,
        slot: spread,
    };
    for answer in [
        PlayAnswer::Transactions(Transactions { list, lost: u32::MAX, late_edges: u32::MAX }),
        PlayAnswer::Margins(margins),
    ] {
        let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
        write_frame(header(Kind::Played, SESSION, u16::MAX), &answer, &mut frame).unwrap();
    }
}
