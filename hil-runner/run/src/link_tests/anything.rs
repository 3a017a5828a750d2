//! Any bytes from the far end: no panic, no endless wait, and no answer but the one to the request.

use std::time::Duration;

use proptest::prelude::*;
use slotwise_bridge::frame::{Header, Kind};
use slotwise_bridge::message::Request;

use super::far_end::{Back, FarEnd, Heard, frame, honest};
use super::rig::is_named;
use slotwise_bench::link::{Link, LinkError};

/// How a far end answers one frame.
#[derive(Clone, Debug)]
enum Move {
    /// Any bytes at all.
    Bytes(Vec<u8>),
    /// A sound frame, whose number and session may be right.
    Frame { protocol: u8, kind: Kind, session_off: u32, sequence_off: u16, payload: Vec<u8> },
    /// What is right, up to so many bytes.
    Cut(usize),
    /// What is right, with a bit that is not.
    Flipped(usize, u8),
    /// What is right.
    Right,
}

/// A payload without its length: postcard writes the elements of a tuple as they are.
struct Raw<'a>(&'a [u8]);

impl serde::Serialize for Raw<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeTuple;
        let mut tuple = serializer.serialize_tuple(self.0.len())?;
        for byte in self.0 {
            tuple.serialize_element(byte)?;
        }
        tuple.end()
    }
}

impl Move {
    fn bytes(&self, heard: &Heard) -> Vec<u8> {
        let mut right = honest(heard);
        match self {
            Self::Bytes(bytes) => bytes.clone(),
            Self::Frame { protocol, kind, session_off, sequence_off, payload } => {
                let header = Header {
                    protocol: *protocol,
                    kind: *kind,
                    session: heard.header.session.wrapping_add(*session_off),
                    sequence: heard.header.sequence.wrapping_add(*sequence_off),
                };
                frame(header, &Raw(payload))
            }
            Self::Cut(length) => {
                right.truncate(*length);
                right
            }
            Self::Flipped(byte, bit) => {
                let byte = byte % right.len();
                right[byte] ^= 1 << bit;
                right
            }
            Self::Right => right,
        }
    }
}

fn any_move() -> impl Strategy<Value = Move> {
    let kind = prop_oneof![
        Just(Kind::Hello),
        Just(Kind::Request),
        Just(Kind::Welcome),
        Just(Kind::Reply),
        Just(Kind::Refusal)
    ];
    let payload = proptest::collection::vec(prop_oneof![0_u8..16, any::<u8>()], 0..=64);
    let near = || prop_oneof![3 => Just(0_u16), 1 => any::<u16>()];
    let bytes = proptest::collection::vec(prop_oneof![1 => Just(0_u8), 4 => any::<u8>()], 0..300);
    prop_oneof![
        4 => bytes.prop_map(Move::Bytes),
        4 => (prop_oneof![3 => Just(1_u8), 1 => any::<u8>()], kind, near(), near(), payload).prop_map(
            |(protocol, kind, session_off, sequence_off, payload)| Move::Frame {
                protocol, kind, session_off: session_off.into(), sequence_off, payload
            }
        ),
        2 => (0_usize..40).prop_map(Move::Cut),
        2 => (any::<usize>(), 0_u8..8).prop_map(|(byte, bit)| Move::Flipped(byte, bit)),
        1 => Just(Move::Right),
    ]
}

/// The moves on one frame, each with a time in milliseconds.
fn any_moves() -> impl Strategy<Value = Vec<(u64, Move)>> {
    proptest::collection::vec((prop_oneof![Just(0_u64), 0_u64..2_000], any_move()), 0..6)
}

proptest! {
    #[test]
    fn anything_from_the_far_end_ends_in_an_answer_to_the_question_or_a_named_error_within_the_bound(
        script in proptest::collection::vec(any_moves(), 1..12),
        greets in any::<bool>(),
        busy_ms in prop_oneof![Just(0_u64), 0_u64..3_000],
    ) {
        let mut turn = 0;
        let far_end = FarEnd::new(move |heard| -> Back {
            if heard.header.kind == Kind::Alive {
                return Vec::new();
            }
            if greets && heard.header.kind == Kind::Hello {
                return vec![(Duration::ZERO, honest(heard))];
            }
            let moves = &script[turn % script.len()];
            turn += 1;
            moves.iter().map(|(ms, what)| (Duration::from_millis(*ms), what.bytes(heard))).collect()
        });
        let heard = far_end.heard();
        let opened = Link::open(Box::new(far_end), 0xA1B2_C3D4);
        let at = heard.borrow().last().map_or(Duration::ZERO, |heard| heard.at);
        prop_assert!(at <= Duration::from_millis(3_750), "the last greeting was at {:?}", at);
        let mut link = match opened {
            Ok(link) => link,
            Err(error) => {
                prop_assert!(is_named(&error.to_string()), "{}", error);
                return Ok(());
            }
        };
        let busy = Duration::from_millis(busy_ms);
        let mut number = 0;
        for _ in 0..4 {
            let before = link.now();
            match link.ask(&Request::Look, busy) {
                Ok(_) => {
                    let heard = heard.borrow();
                    let request = heard.iter().rfind(|heard| heard.header.kind == Kind::Request);
                    prop_assert_eq!(request.unwrap().header.sequence, number);
                    number += 1;
                }
                // Refused whole: its number is the next one's.
                Err(LinkError::OutOfBounds { .. }) => {}
                Err(error) => prop_assert!(is_named(&error.to_string()), "{}", error),
            }
            let took = link.now() - before;
            prop_assert!(took <= busy * 2 + Duration::from_secs(4), "{:?} for {:?}", took, busy);
        }
        prop_assert!(heard.borrow().len() <= 5 * 60, "{} frames", heard.borrow().len());
    }
}
