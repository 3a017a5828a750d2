//! Frames: against the published examples of the standards, against damage, and against anything at all.

use std::vec::Vec;
use std::{format, vec};

use proptest::prelude::*;

use super::*;

const HEAD: Header = Header { protocol: PROTOCOL, kind: Kind::Reply, session: 0x0102_0304, sequence: 0x0506 };

/// A payload of any length; postcard writes these as they are.
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

fn written(payload: &[u8]) -> Vec<u8> {
    let mut frame = heapless::Vec::new();
    write_frame(HEAD, &Raw(payload), &mut frame).unwrap();
    frame.to_vec()
}

/// A received frame without its loan: the payload, or the damage.
fn read(reader: &mut FrameReader, bytes: &[u8]) -> Vec<Result<Vec<u8>, BodyError>> {
    let mut all = vec![];
    for byte in bytes {
        match reader.push(*byte) {
            Some(Received::Frame(body)) => all.push(Ok(body.payload.to_vec())),
            Some(Received::Unknown(unknown)) => panic!("{unknown:?}"),
            Some(Received::Damaged(error)) => all.push(Err(error)),
            None => {}
        }
    }
    all
}

fn read_one(bytes: &[u8]) -> Result<Vec<u8>, BodyError> {
    let all = read(&mut FrameReader::new(), bytes);
    assert_eq!(all.len(), 1, "{all:?}");
    all.into_iter().next().unwrap()
}

/// COBS from the paper, for fewer than 254 bytes in a row without a zero.
fn stuffed(body: &[u8]) -> Vec<u8> {
    let pieces = body.split(|byte| *byte == 0);
    pieces.flat_map(|piece| [piece.len() as u8 + 1].into_iter().chain(piece.iter().copied())).chain([0]).collect()
}

/// CRC-32/ISO-HDLC bit by bit, from its parameters.
fn crc32(bytes: &[u8]) -> u32 {
    let mut register = u32::MAX;
    for byte in bytes {
        register ^= u32::from(*byte);
        for _ in 0..8 {
            register = if register & 1 == 1 { register >> 1 ^ 0xEDB8_8320 } else { register >> 1 };
        }
    }
    !register
}

#[test]
fn the_check_sum_is_the_one_of_the_catalogue() {
    // Check value and residue from the catalogue of parametrised CRC algorithms.
    assert_eq!(CHECK.checksum(b"123456789"), 0xCBF4_3926);
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    assert_eq!(CHECK.checksum(b"123456789\x26\x39\xF4\xCB"), 0x2144_DF1C);
}

#[test]
fn a_frame_is_header_payload_and_check_sum_stuffed() {
    for payload in [&b""[..], b"\0", b"\0\0ab\0", b"abc", &[0xFF; MAX_PAYLOAD], &[0; MAX_PAYLOAD]] {
        let mut body = vec![PROTOCOL, 0x82, 4, 3, 2, 1, 6, 5];
        body.extend_from_slice(payload);
        let check = crc32(&body);
        body.extend_from_slice(&check.to_le_bytes());
        let (first, rest) = written(payload).split_first().map(|(first, rest)| (*first, rest.to_vec())).unwrap();
        assert_eq!((first, rest), (0, stuffed(&body)), "a zero before it ends whatever was on the way");
        assert_eq!(read_one(&stuffed(&body)).unwrap(), payload);
    }
}

#[test]
fn a_header_is_read_as_it_is_written_for_every_kind_and_no_other() {
    let mut kinds = 0;
    for kind in 0..=u8::MAX {
        let bytes = [9, kind, 1, 2, 3, 4, 5, 6];
        match Header::of(bytes) {
            Ok(header) => {
                assert_eq!(header.bytes(), bytes);
                assert_eq!((header.protocol, header.session, header.sequence), (9, 0x0403_0201, 0x0605));
                kinds += 1;
            }
            Err(unknown) => {
                assert!(![0x01, 0x02, 0x03, 0x04, 0x05, 0x81, 0x82, 0x83, 0x84, 0x85].contains(&kind));
                let expected = UnknownKind { protocol: 9, kind, session: 0x0403_0201, sequence: 0x0605 };
                assert_eq!((unknown, unknown.is_of_bridge()), (expected, kind >= 0x80));
            }
        }
    }
    assert_eq!(kinds, 10);
}

#[test]
fn a_payload_one_byte_too_long_is_not_written() {
    let mut frame = heapless::Vec::new();
    assert_eq!(write_frame(HEAD, &Raw(&[7; MAX_PAYLOAD]), &mut frame), Ok(()));
    assert_eq!(frame.len(), MAX_FRAME);
    assert_eq!(write_frame(HEAD, &Raw(&[7; MAX_PAYLOAD + 1]), &mut frame), Err(FrameError));
    assert!(frame.is_empty(), "nothing of the frame before is left to be sent");
}

#[test]
fn a_body_one_byte_too_long_is_damaged_and_the_next_frame_is_not() {
    let mut body = vec![PROTOCOL, 0x82, 4, 3, 2, 1, 6, 5];
    body.extend_from_slice(&[7; MAX_PAYLOAD + 1]);
    let check = crc32(&body);
    body.extend_from_slice(&check.to_le_bytes());
    let mut reader = FrameReader::new();
    assert_eq!(read(&mut reader, &stuffed(&body)), [Err(BodyError::TooLong)]);
    assert_eq!(read(&mut reader, &written(b"x")), [Ok(b"x".to_vec())]);
}

#[test]
fn each_kind_of_damage_has_its_name() {
    assert_eq!(read_one(&[5, 1, 2, 0]), Err(BodyError::Stuffing));
    assert_eq!(read_one(&stuffed(&[])), Err(BodyError::TooShort));
    assert_eq!(read_one(&stuffed(&[1; 11])), Err(BodyError::TooShort));
    let sound = [PROTOCOL, 0x82, 4, 3, 2, 1, 6, 5];
    let (computed, received) = (crc32(&sound), crc32(&sound) ^ 1);
    let with = |head: &[u8], check: u32| stuffed(&[head, &check.to_le_bytes()].concat());
    assert_eq!(read_one(&with(&sound, received)), Err(BodyError::Check { computed, received }));
}

#[test]
fn a_sound_frame_of_an_unknown_kind_is_no_damage() {
    let body = [PROTOCOL + 1, 0x06, 4, 3, 2, 1, 6, 5, 77];
    let mut reader = FrameReader::new();
    let mut seen = 0;
    for byte in stuffed(&[&body[..], &crc32(&body).to_le_bytes()].concat()) {
        if let Some(received) = reader.push(byte) {
            let expected = UnknownKind { protocol: PROTOCOL + 1, kind: 0x06, session: 0x0102_0304, sequence: 0x0506 };
            assert_eq!(received, Received::Unknown(expected));
            seen += 1;
        }
    }
    assert_eq!(seen, 1);
}

/// A line of a log that is printed on the same port between two frames, without a zero anywhere.
#[test]
fn noise_before_a_frame_is_damage_of_its_own_and_takes_no_frame_with_it() {
    let bytes = [b"boot: hello\r\n".to_vec(), written(b"a")].concat();
    let all = read(&mut FrameReader::new(), &bytes);
    assert_eq!(all.len(), 2, "{all:?}");
    assert!(all[0].is_err(), "{all:?}");
    assert_eq!(all[1], Ok(b"a".to_vec()));
}

#[test]
fn a_frame_that_is_cut_short_anywhere_is_damaged() {
    let frame = written(b"one\0two\0three\0four");
    for length in 2..frame.len() - 1 {
        let mut cut = frame[..length].to_vec();
        cut.push(0);
        assert!(read_one(&cut).is_err(), "{length}");
    }
}

#[test]
fn a_frame_with_any_bit_flipped_is_damaged() {
    let frame = written(b"one\0two");
    for bit in 8..(frame.len() - 1) * 8 {
        let mut flipped = frame.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let all = read(&mut FrameReader::new(), &flipped);
        assert!(!all.is_empty() && all.iter().all(Result::is_err), "bit {bit}: {all:?}");
    }
}

#[test]
fn zeros_between_frames_are_nothing() {
    let frames = [&[0, 0][..], &written(b"a"), &[0, 0, 0], &written(b"b"), &[0]].concat();
    assert_eq!(read(&mut FrameReader::new(), &frames), [Ok(b"a".to_vec()), Ok(b"b".to_vec())]);
}

#[test]
fn a_message_is_all_of_its_payload_and_a_beginning_need_not_be() {
    let mut reader = FrameReader::new();
    let frame = written(&[7, 8]);
    let (last, first) = frame.split_last().unwrap();
    assert!(first.iter().all(|byte| reader.push(*byte).is_none()));
    let Some(Received::Frame(body)) = reader.push(*last) else { panic!("no frame") };
    assert_eq!(body.message::<u8>(), None);
    assert_eq!(body.message::<(u8, u8)>(), Some((7, 8)));
    assert_eq!(body.beginning::<u8>(), Some(7));
    assert_eq!(body.beginning::<(u8, u8, u8)>(), None);
}

#[test]
fn errors_say_what_is_wrong() {
    let error = BodyError::Check { computed: 0x12, received: 0xABCD_EF01 };
    assert_eq!(format!("{error}"), "the check sum is ABCDEF01h where 00000012h belongs");
}

proptest! {
    #[test]
    fn any_payload_goes_through(payload in proptest::collection::vec(any::<u8>(), 0..=MAX_PAYLOAD)) {
        let frame = written(&payload);
        prop_assert_eq!(frame[0], 0);
        prop_assert_eq!(frame[1..].iter().position(|byte| *byte == 0), Some(frame.len() - 2));
        prop_assert_eq!(read_one(&frame), Ok(payload));
    }

    #[test]
    fn after_any_bytes_and_a_zero_the_reader_is_in_step(
        noise in proptest::collection::vec(prop_oneof![any::<u8>(), Just(0), Just(0xFF), Just(1)], 0..600),
        payload in proptest::collection::vec(any::<u8>(), 0..=MAX_PAYLOAD),
    ) {
        let mut reader = FrameReader::new();
        // A frame by chance has odds of 1 in 2^32.
        prop_assert!(read(&mut reader, &noise).iter().all(Result::is_err));
        read(&mut reader, &[0]);
        prop_assert_eq!(read(&mut reader, &written(&payload)), [Ok(payload)]);
    }

    #[test]
    fn there_is_one_outcome_for_each_run_of_bytes_between_zeros(
        bytes in proptest::collection::vec(prop_oneof![any::<u8>(), Just(0)], 0..600),
    ) {
        let runs = bytes.split(|byte| *byte == 0).rev().skip(1).filter(|run| !run.is_empty()).count();
        prop_assert_eq!(read(&mut FrameReader::new(), &bytes).len(), runs);
    }
}
