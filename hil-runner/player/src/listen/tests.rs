//! Encoder and decoder against each other, worked examples, and hostile bytes.

use std::vec;
use std::vec::Vec;

use proptest::prelude::*;

use super::*;

/// A buffer that is emptied by the test.
#[derive(Default)]
struct Buffer {
    bytes: Vec<u8>,
    size: usize,
}

impl Room for Buffer {
    fn free(&self) -> usize {
        self.size.saturating_sub(self.bytes.len())
    }

    fn push(&mut self, byte: u8) {
        assert!(self.free() > 0, "there is room");
        self.bytes.push(byte);
    }
}

fn decoded(bytes: &[u8]) -> Vec<Item> {
    let mut decoder = Decoder::new();
    bytes.iter().filter_map(|byte| decoder.push(*byte).unwrap()).collect()
}

#[test]
fn the_table_of_records_is_what_is_written() {
    let mut buffer = Buffer { size: 1_000, ..Buffer::default() };
    let mut encoder = Encoder::new(18);
    assert!(encoder.begin(1_000, true, &mut buffer));
    let mut now = 1_000;
    let mut high = true;
    for units in [0, 247, 248, 2_039, 2_040, 300_000] {
        now += units * 18;
        high = !high;
        encoder.edge(now, high, &mut buffer);
    }
    encoder.quiet(now + 18 * 200, &mut buffer);
    let expected = [
        0xFF, 0x01, 1, // begin, high
        0x00, 0xF7, // 0 and 247 units
        0xF8, 0x00, 0xFE, 0xFF, // 248 and 2039
        0xFF, 0x00, 0xF8, 0x0F, // 2040
        0xFF, 0x00, 0xE0, 0xA7, 0x12, // 300 000
        0xFF, 0x02, 0xC8, 0x01, // quiet for 200
    ];
    assert_eq!(buffer.bytes, expected);
    assert_eq!(decoded(&expected).last(), Some(&Item::Quiet { at: 247 + 248 + 2_039 + 2_040 + 300_000 + 200 }));
}

#[test]
fn the_fastest_legal_master_takes_no_more_than_one_byte_and_a_half_an_edge() {
    // DS18B20 (7/19) AC table: slots of 60 us and 1 us of recovery, 16 400 a second; at 72 MHz.
    for (low_us, high_us) in [(1, 60), (60, 1), (15, 46), (6, 64), (60, 10), (28, 42)] {
        let mut buffer = Buffer { size: 100_000, ..Buffer::default() };
        let mut encoder = Encoder::new(unit_ticks(72_000_000));
        assert!(encoder.begin(0, true, &mut buffer));
        let mut now = 0;
        for _ in 0..16_400 {
            encoder.edge(now, false, &mut buffer);
            now += low_us * 72;
            encoder.edge(now, true, &mut buffer);
            now += high_us * 72;
        }
        assert!(buffer.bytes.len() <= 32_800 * 3 / 2 + 3, "{low_us} {high_us}: {}", buffer.bytes.len());
    }
}

#[test]
fn the_unit_is_a_quarter_of_a_microsecond_or_less_at_every_clock() {
    for hz in [8_000_000, 48_000_000, 64_000_000, 72_000_000, 125_000_000, 133_000_000] {
        assert!(u64::from(unit_ticks(hz)) * 4_000_000 <= u64::from(hz));
    }
}

proptest! {
    #[test]
    fn edges_come_back_to_a_unit_and_gaps_account_for_the_rest(
        unit in 1_u32..40,
        start in any::<u32>(),
        deltas in proptest::collection::vec((0_u32..3_000, 1_u32..2_000), 1..400),
        size in 3_usize..600,
        drained in 0_usize..400,
    ) {
        let mut buffer = Buffer { size, ..Buffer::default() };
        let mut stream = Vec::new();
        let mut encoder = Encoder::new(unit);
        prop_assume!(encoder.begin(start, true, &mut buffer));
        let mut sent = vec![];
        let (mut now, mut ticks, mut high) = (start, 0_u64, true);
        for (place, (delta, factor)) in deltas.iter().enumerate() {
            let delta = delta * factor;
            now = now.wrapping_add(delta);
            ticks += u64::from(delta);
            high = !high;
            encoder.edge(now, high, &mut buffer);
            sent.push((ticks, high));
            // The host reads now and then.
            if place % 7 == 0 {
                let count = drained.min(buffer.bytes.len());
                stream.extend(buffer.bytes.drain(..count));
            }
        }
        stream.append(&mut buffer.bytes);
        // Room again: what was lost is reported.
        buffer.size = 1_000;
        encoder.quiet(now, &mut buffer);
        stream.append(&mut buffer.bytes);

        let items = decoded(&stream);
        prop_assert_eq!(items.first(), Some(&Item::Begin { high: true }));
        let mut sent = sent.into_iter();
        let unit = u64::from(unit);
        let mut lost = Lost::default();
        for item in &items[1..] {
            match *item {
                Item::Edge { at, high } => prop_assert_eq!(sent.next().map(|(ticks, high)| (ticks / unit, high)), Some((at, high))),
                Item::Gap { from, to, edges, high } => {
                    lost = Lost { edges: lost.edges + edges, gaps: lost.gaps + 1 };
                    let gone: Vec<_> = sent.by_ref().take(edges as usize).collect();
                    prop_assert_eq!(gone.first().map(|(ticks, _)| ticks / unit), Some(from));
                    prop_assert_eq!(gone.last().map(|(ticks, high)| (ticks / unit, *high)), Some((to, high)));
                }
                Item::Quiet { at } => prop_assert_eq!(at, ticks / unit),
                Item::Begin { .. } => prop_assert!(false, "it begins once"),
            }
        }
        prop_assert_eq!(sent.next(), None);
        prop_assert_eq!(lost, encoder.lost());
    }

    #[test]
    fn any_bytes_are_decoded_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let mut decoder = Decoder::new();
        for byte in bytes {
            let _ = decoder.push(byte);
        }
    }
}
