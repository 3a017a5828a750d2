//! Anything at all on the wire: nothing panics, nothing is carried out twice, and the next sound frame is understood.

use proptest::collection::vec;
use proptest::prelude::*;
use slotwise_bridge::frame::{FrameReader, Header, Kind, PROTOCOL, Received};
use slotwise_bridge::message::{Answer, Reply, Request};

use crate::samples;
use crate::talk::{Counted, Heard, SESSION, THROW, frame, header, hear, hello, request, say};

/// What a model of the bridge expects of a frame.
#[derive(Clone, Debug)]
enum Sent {
    /// Bytes that are no frame, with a zero behind them or without.
    Noise(Vec<u8>, bool),
    Hello(u32),
    /// A request so far from the number that is next, to one of two sessions.
    Request {
        session: u32,
        ahead: i8,
        which: usize,
    },
    Foreign(u8),
    /// The bridge's own last frame.
    Echo,
}

fn sent() -> impl Strategy<Value = Sent> {
    let noise = vec(prop_oneof![4 => any::<u8>(), 1 => Just(0), 1 => Just(0xFF)], 1..300);
    prop_oneof![
        3 => (noise, any::<bool>()).prop_map(|(bytes, ended)| Sent::Noise(bytes, ended)),
        2 => (1_u32..3).prop_map(Sent::Hello),
        8 => (1_u32..3, prop_oneof![3 => Just(0_i8), 2 => Just(-1), 1 => any::<i8>()], 0..samples::requests().len())
            .prop_map(|(session, ahead, which)| Sent::Request { session, ahead, which }),
        1 => any::<u8>().prop_filter("ours", |version| *version != PROTOCOL).prop_map(Sent::Foreign),
        1 => Just(Sent::Echo),
    ]
}

/// The session as the specification has it.
#[derive(Default)]
struct Model {
    session: Option<u32>,
    last: Option<u16>,
    next: u16,
    executed: u64,
    /// The last reply of the session.
    reply: Vec<u8>,
    /// Bytes without a zero behind them are on the way: they spoil the next frame.
    dangling: bool,
}

impl Model {
    fn hello(&mut self, session: u32) {
        if self.session != Some(session) {
            (self.session, self.last, self.next) = (Some(session), None, 0);
        }
    }
}

fn ends_open(bytes: &[u8]) -> bool {
    bytes.last().is_some_and(|last| *last != 0)
}

/// Hands bytes over in pieces of these lengths. A bridge takes them one by one; a piece is what a carrier brings at once.
fn in_pieces(bridge: &mut Counted, bytes: &[u8], lengths: &[usize]) -> Vec<Vec<u8>> {
    let mut frames = vec![];
    let mut left = bytes;
    for length in lengths.iter().cycle() {
        let (piece, rest) = left.split_at((*length).min(left.len()));
        frames.extend(bridge.send(piece));
        left = rest;
        if left.is_empty() {
            return frames;
        }
    }
    frames
}

proptest! {
    #[test]
    fn the_bridge_does_as_the_model_says_whatever_comes(
        all in vec(sent(), 1..60), lengths in vec(1_usize..40, 1..8)
    ) {
        let mut bridge = Counted::new();
        let mut model = Model::default();
        let mut echo: Vec<u8> = vec![];
        for sent in all {
            let spoilt = model.dangling;
            let bytes = match &sent {
                Sent::Noise(bytes, ended) => {
                    let mut bytes = bytes.clone();
                    if *ended {
                        bytes.push(0);
                    }
                    bytes
                }
                Sent::Hello(session) => hello(*session),
                Sent::Request { session, ahead, which } => {
                    request(*session, model.next.wrapping_add_signed((*ahead).into()), samples::requests()[*which])
                }
                Sent::Foreign(version) => {
                    frame(Header { protocol: *version, ..header(Kind::Request, SESSION, 3) }, &THROW)
                }
                Sent::Echo => echo.clone(),
            };
            let frames = in_pieces(&mut bridge, &bytes, &lengths);
            for frame in &frames {
                // Reads every frame to its end, or fails.
                hear(frame);
            }
            if !bytes.is_empty() {
                model.dangling = ends_open(&bytes);
            }
            if matches!(sent, Sent::Noise(..)) {
                for frame in &frames {
                    prop_assert_eq!(hear(frame).1, Heard::Damaged);
                }
                prop_assert_eq!(bridge.executions.count(), model.executed);
                continue;
            }
            // The zero before a frame ends what was left open, and takes nothing from the frame.
            let frames = match frames.split_first() {
                Some((damaged, rest)) if spoilt && !bytes.is_empty() => {
                    prop_assert_eq!(hear(damaged).1, Heard::Damaged);
                    rest.to_vec()
                }
                _ => frames,
            };
            let heard: Vec<_> = frames.iter().map(|frame| hear(frame).1).collect();
            match sent {
                Sent::Noise(..) => unreachable!("dealt with above"),
                Sent::Hello(session) => {
                    model.hello(session);
                    prop_assert!(matches!(heard[..], [Heard::Welcome { .. }]), "{:?}", heard);
                }
                Sent::Foreign(yours) => {
                    let named = matches!(heard[..], [Heard::Protocol { yours: named, .. }] if named == yours);
                    prop_assert!(named, "{:?}", heard);
                }
                Sent::Echo => prop_assert_eq!(heard, vec![]),
                Sent::Request { session, ahead, which } => {
                    let sequence = model.next.wrapping_add_signed(ahead.into());
                    if model.session != Some(session) {
                        prop_assert!(matches!(heard[..], [Heard::NoSession(_)]), "{:?}", heard);
                    } else if model.last == Some(sequence) {
                        prop_assert_eq!(&frames, &vec![model.reply.clone()]);
                    } else if sequence != model.next {
                        prop_assert_eq!(heard, vec![Heard::OutOfOrder { expected: model.next }]);
                    } else {
                        model.executed += 1;
                        (model.last, model.next) = (Some(sequence), sequence.wrapping_add(1));
                        prop_assert_eq!(frames.len(), 1);
                        model.reply.clone_from(&frames[0]);
                        let Heard::Reply(Reply { answer, line }) = &heard[0] else { panic!("{heard:?}") };
                        prop_assert_eq!(line.at_us, model.executed);
                        prop_assert_eq!(variant(answer), variant(&samples::requests()[which]));
                    }
                }
            }
            prop_assert_eq!(bridge.executions.count(), model.executed);
            if let Some(frame) = frames.last() {
                echo.clone_from(frame);
            }
        }
        // In step again after the next zero, whatever was before.
        bridge.send(&[0]);
        let (_, heard) = bridge.answer(&hello(99));
        prop_assert!(matches!(heard, Heard::Welcome { .. }), "{:?}", heard);
        let (_, heard) = bridge.answer(&request(99, 0, Request::Look));
        prop_assert!(matches!(heard, Heard::Reply(Reply { answer: Answer::Look, .. })), "{:?}", heard);
    }

    #[test]
    fn over_any_line_each_request_is_carried_out_once_and_answered(
        requests in 1_u16..40, faults in vec(fault(), 400)
    ) {
        let mut bridge = Counted::new();
        let mut wire = Wire { faults: faults.into_iter(), reader: FrameReader::new() };
        let mut bytes = hello(SESSION);
        wire.ask(&mut bridge, &bytes, |head, heard| head.kind == Kind::Welcome && matches!(heard, Heard::Welcome { .. }));
        for sequence in 0..requests {
            bytes = request(SESSION, sequence, THROW);
            let count = u64::from(sequence) + 1;
            wire.ask(&mut bridge, &bytes, |head, heard| match heard {
                Heard::Reply(reply) if head == header(Kind::Reply, SESSION, sequence) => {
                    assert_eq!(reply.line.at_us, count, "the reply to this request");
                    true
                }
                _ => false,
            });
            prop_assert_eq!((bridge.executions.count(), bridge.throws.count()), (count, count));
        }
    }
}

/// The first byte of what a value is written as.
fn variant(value: &impl serde::Serialize) -> u8 {
    let mut buffer = [0; 232];
    postcard::to_slice(value, &mut buffer).unwrap()[0]
}

/// What happens to a frame on its way.
#[derive(Clone, Copy, Debug)]
enum Fault {
    None,
    Lost,
    Twice,
    /// A bit of some byte.
    Flipped(usize, u8),
    /// Cut after some byte.
    Cut(usize),
    /// Something in front of it.
    Noise(u8),
}

fn fault() -> impl Strategy<Value = Fault> {
    prop_oneof![
        3 => Just(Fault::None),
        1 => Just(Fault::Lost),
        1 => Just(Fault::Twice),
        1 => (any::<usize>(), 0_u8..8).prop_map(|(at, bit)| Fault::Flipped(at, bit)),
        1 => any::<usize>().prop_map(Fault::Cut),
        1 => any::<u8>().prop_map(Fault::Noise),
    ]
}

/// A line between host and bridge that damages frames both ways until its faults are used up.
struct Wire {
    faults: std::vec::IntoIter<Fault>,
    reader: FrameReader,
}

impl Wire {
    fn carry(&mut self, frame: &[u8]) -> Vec<u8> {
        let mut bytes = frame.to_vec();
        match self.faults.next().unwrap_or(Fault::None) {
            Fault::None => {}
            Fault::Lost => bytes.clear(),
            Fault::Twice => bytes.extend_from_slice(frame),
            Fault::Flipped(at, bit) => bytes[at % frame.len()] ^= 1 << bit,
            Fault::Cut(at) => bytes.truncate(at % frame.len()),
            Fault::Noise(byte) => bytes.insert(0, byte),
        }
        bytes
    }

    /// A host that knows nothing but to ask again until the right answer comes.
    fn ask(&mut self, bridge: &mut Counted, frame: &[u8], mut is_answer: impl FnMut(Header, Heard) -> bool) {
        for _ in 0..1_000 {
            let there = self.carry(frame);
            let mut answered = false;
            for sent in bridge.send(&there) {
                for byte in self.carry(&sent) {
                    if let Some(Received::Frame(body)) = self.reader.push(byte) {
                        answered |= is_answer(body.header, say(&body));
                    }
                }
            }
            if answered {
                return;
            }
        }
        panic!("no answer to 1000 tries")
    }
}
