//! A real line, painted from its transcript: what its transcript describes must be found, unaided.

use slotwise_golden::{Traffic, Transcript};

use crate::decode::Phase;
use crate::paint::{Paint, STANDARD, Times, about};
use crate::{Outcome, Topic};

/// The line as it was captured: resets at their times and as long as they were, and all traffic. Low times of slots are the middle of
/// those that were measured on it (write 0: 60 to 66 us, write 1: up to 12 us, read 0: 26 to 30 us; slots 65 to 69 us apart).
fn captured() -> (Paint, Transcript) {
    let transcript = Transcript::embedded().unwrap();
    let mut paint = Paint::new(Times {
        zero_low: 63_000,
        one_low: 9_000,
        read_low: 3_000,
        read_zero_low: 28_000,
        slot: 67_000,
        ..STANDARD
    });
    for transaction in &transcript.transactions {
        let reset = transaction.reset;
        let ns = |us: u32| u64::from(us) * 1_000;
        paint.now = ns(transaction.at_us);
        paint.times.reset_low = ns(reset.low_us);
        paint.times.presence_after = ns(reset.presence_after_us);
        paint.times.presence_low = ns(reset.presence_us);
        paint.times.reset_high = 497_000;
        paint.reset();
        for traffic in &transaction.traffic {
            match traffic {
                Traffic::Written(bytes) => {
                    paint.write(&bytes.0);
                }
                Traffic::Answered(bytes) => {
                    paint.read(&bytes.0);
                }
                Traffic::Search(pass) => {
                    for [bit, complement, choice] in pass.slots.triplets() {
                        paint.read_bit(bit).read_bit(complement).write_bit(choice);
                    }
                }
            }
        }
    }
    (paint, transcript)
}

#[test]
fn every_byte_of_the_transcript_is_decoded() {
    let (paint, transcript) = captured();
    let decoded = paint.transactions();
    assert_eq!(decoded.len(), transcript.transactions.len());
    for (decoded, written) in decoded.iter().zip(&transcript.transactions) {
        // All bytes in the order of the wire, whoever sent them and whatever they mean.
        let mut bytes = Vec::new();
        for phase in &decoded.phases {
            match phase {
                Phase::RomCommand { code, .. } | Phase::Function { code, .. } => bytes.push(*code),
                Phase::RomWritten { bytes: more } | Phase::RomAnswered { bytes: more } => bytes.extend(&more.0),
                Phase::Written { bytes: more, .. }
                | Phase::Answered { bytes: more, .. }
                | Phase::Foreign { bytes: more, .. } => bytes.extend(&more.0),
                Phase::Search { triplets, .. } => {
                    let mut rom = [0; 8];
                    for (place, triplet) in triplets.iter().enumerate() {
                        rom[place / 8] |= u8::from(triplet.written == Some(true)) << (place % 8);
                    }
                    bytes.extend(rom);
                }
                Phase::Polled { .. } | Phase::ReadOn { .. } => {}
            }
        }
        let expected: Vec<u8> = written
            .traffic
            .iter()
            .flat_map(|traffic| match traffic {
                Traffic::Written(bytes) | Traffic::Answered(bytes) => bytes.0.clone(),
                Traffic::Search(pass) => pass.found.0.to_vec(),
            })
            .collect();
        assert_eq!(bytes, expected);
        assert_eq!(decoded.reset.low_ns, u64::from(written.reset.low_us) * 1_000);
    }
}

/// The story, from the people who captured the line: two sensors; the resolution was written without a reset and never took; a
/// conversion of all, and readings 234 ms later that are those of before.
#[test]
fn the_story_of_the_real_line_is_found_unaided() {
    let (paint, transcript) = captured();
    let report = paint.report();
    let mut roms: Vec<String> = transcript.roms().iter().map(|rom| rom.to_string().replace(' ', "")).collect();
    roms.sort();
    let found: Vec<String> = report.sensors.iter().map(|sensor| sensor.rom.clone().unwrap().replace(':', "")).collect();
    assert_eq!(found, roms);
    let last: Vec<&str> = report.sensors.iter().map(|sensor| sensor.last_celsius.as_deref().unwrap()).collect();
    assert_eq!(last, ["24.0625", "24.125"]);
    assert_eq!(report.outcome, Outcome::Faulty);
    let unaddressed = about(&report, Topic::NotAddressed);
    let commands: Vec<(bool, bool, u64)> = unaddressed
        .iter()
        .map(|finding| (finding.text.contains("4Eh"), finding.text.contains("48h"), finding.count))
        .collect();
    assert_eq!(commands, [(true, false, 2), (false, true, 2)]);
    let not_taken = about(&report, Topic::WriteNotTaken);
    assert_eq!(not_taken.len(), 2);
    assert!(not_taken.iter().all(|finding| finding.text.contains("4B 46 1F") && finding.text.contains("4B 46 7F")));
    let hurried = about(&report, Topic::NotWaited);
    assert_eq!(hurried.len(), 2);
    assert!(hurried.iter().all(|finding| finding.text.contains("750 ms")));
    assert!(report.sensors.iter().all(|sensor| sensor.byte_6 == ["0Ch"]), "whatever the temperature");
    // And nothing else: its times are within the limits.
    assert_eq!(report.findings.len(), 6, "{:?}", report.findings);
}
