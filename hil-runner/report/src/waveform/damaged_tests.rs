//! Captures that are damaged, cut off or made up.

use proptest::prelude::*;

use slotwise_waveform::capture::{Capture, Item};
use slotwise_waveform::paint::{Paint, STANDARD, report};
use slotwise_waveform::{Chosen, Outcome, analyse};

const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];
const SCRATCHPAD: [u8; 9] = [0x82, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xE1];

fn three_readings() -> String {
    let mut paint = Paint::new(STANDARD);
    for _ in 0..3 {
        paint.read_scratchpad(ROM, SCRATCHPAD);
    }
    paint.vcd()
}

#[test]
fn what_comes_before_and_after_a_damaged_place_is_decoded() {
    let good = three_readings();
    let lines: Vec<&str> = good.lines().collect();
    // In the middle of the second reading.
    let middle = lines.len() / 2;
    for garbage in ["%%%", "#12x", "1", "\u{fffd}", "$nonsense", "#99999999999999999999999"] {
        let mut broken = lines.clone();
        broken[middle] = garbage;
        let report = report(&broken.join("\n"));
        assert_eq!(report.sensors[0].reads, 2, "{garbage}: {:?}", report.damages);
        assert!(report.damaged >= 1, "{garbage}");
        // The line is counted from 1.
        assert!(report.damages[0].line.abs_diff(middle as u64 + 1) <= 1, "{garbage}: {:?}", report.damages);
        assert_eq!(report.outcome, Outcome::Incomplete, "{garbage}: {:?}", report.findings);
    }
}

#[test]
fn a_time_that_goes_back_is_a_damaged_place() {
    let good = three_readings();
    let mut lines: Vec<String> = good.lines().map(str::to_owned).collect();
    let middle = lines.len() / 2;
    lines.insert(middle, "#5".into());
    let report = report(&lines.join("\n"));
    assert!(report.damages[0].why.contains("earlier"), "{:?}", report.damages);
    assert_eq!(report.sensors[0].reads, 2);
}

#[test]
fn a_file_that_breaks_off_is_decoded_up_to_there() {
    let good = three_readings();
    let mut reads = Vec::new();
    for end in (0..good.len()).step_by(97) {
        let head = &good.as_bytes()[..end];
        let (Ok(capture), Ok(chosen)) = (Capture::open(head), Chosen::of(head, 0)) else { continue };
        let report = analyse(capture, chosen, &mut |_| ());
        // Nothing is made up: no finding comes of where the file ends.
        assert!(report.findings.is_empty(), "{end}: {:?}", report.findings);
        reads.push(report.sensors.first().map_or(0, |sensor| sensor.reads));
    }
    assert!(reads.is_sorted() && reads.contains(&1) && reads.contains(&2), "{reads:?}");
}

#[test]
fn a_capture_that_begins_in_the_middle_is_decoded_from_the_next_reset_on() {
    let good = three_readings();
    let (header, body) = good.split_at(good.find('#').unwrap());
    let lines: Vec<&str> = body.lines().collect();
    for begin in (0..lines.len()).step_by(61) {
        let report = report(&format!("{header}{}", lines[begin..].join("\n")));
        assert!(report.findings.is_empty(), "{begin}: {:?}", report.findings);
    }
}

#[test]
fn one_endless_token_does_not_fill_the_memory() {
    struct Endless<'a>(&'a [u8]);
    impl std::io::Read for Endless<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            if self.0.is_empty() {
                buffer.fill(b'0');
                return Ok(buffer.len());
            }
            self.0.read(buffer)
        }
    }
    let header = b"$timescale 1 ns $end $var wire 1 ! a $end $enddefinitions $end #0 b";
    let items: Vec<Item> = Capture::open(Endless(header)).unwrap().collect();
    assert!(matches!(items.as_slice(), [Item::Damage(_)]), "{items:?}");
    assert!(Capture::open(Endless(b"$comment ")).is_err());
}

#[test]
fn a_capture_of_nothing_but_damage_ends() {
    let header = "$timescale 1 ns $end $var wire 1 ! a $end $enddefinitions $end\n";
    let report = report(&format!("{header}{}", "% ".repeat(200_000)));
    assert_eq!(report.outcome, Outcome::NothingSeen);
    assert!(report.damaged <= 10_000 && report.damages.len() == 20);
}

/// All that is done with a capture, on one that may be anything.
fn all_of_it(bytes: &[u8]) {
    let open = || Capture::open(bytes);
    let Ok(capture) = open() else { return };
    let signals = capture.signals().len();
    for signal in 0..signals.min(3) {
        let report = analyse(open().unwrap(), Chosen::of(bytes, signal).unwrap(), &mut |transaction| {
            let line = super::transaction_line(transaction);
            assert!(!line.is_empty());
        });
        let shown = super::waveform_lines(&crate::TextLook::PLAIN, "some.vcd", &report);
        assert!(!shown.is_empty());
        serde_json::to_string(&report).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_read_without_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2_000)) {
        all_of_it(&bytes);
    }

    #[test]
    fn any_text_of_the_right_words_is_read_without_panic(words in proptest::collection::vec(
        prop_oneof![
            Just("$timescale 1 us $end".to_owned()), Just("$var wire 1 ! a $end".to_owned()), Just("$end".to_owned()),
            Just("$var wire 1 \" b $end".to_owned()), Just("$enddefinitions $end".to_owned()), Just("$scope module m $end".to_owned()),
            Just("$upscope $end".to_owned()), Just("$dumpvars".to_owned()), Just("$comment x $end".to_owned()),
            Just("0!".to_owned()), Just("1!".to_owned()), Just("z!".to_owned()), Just("x!".to_owned()), Just("1\"".to_owned()),
            Just("b1 !".to_owned()), Just("b !".to_owned()), Just("r1.5 !".to_owned()), Just("#".to_owned()),
            any::<u64>().prop_map(|time| format!("#{time}")), (0_u64..5_000).prop_map(|time| format!("#{time}")),
        ], 0..200)) {
        all_of_it(format!("$timescale 1 us $end $var wire 1 ! a $end $enddefinitions $end {}", words.join(" ")).as_bytes());
        all_of_it(words.join("\n").as_bytes());
    }

    #[test]
    fn any_damage_to_a_real_conversation_is_read_without_panic(
        at in proptest::collection::vec((0.0..1.0, any::<u8>()), 1..20)) {
        let mut bytes = three_readings().into_bytes();
        for (share, byte) in at {
            let place = (share * bytes.len() as f64) as usize;
            bytes[place] = byte;
        }
        all_of_it(&bytes);
    }

    /// Pulses of any length at any distance, and often of those that something else follows from: the decoder must get along, and count
    /// each of them as something, once.
    #[test]
    fn any_pulses_are_taken_for_something(pulses in proptest::collection::vec((
        prop_oneof![1_u64..1_500_000, 48_000_u64..80_000, 8_000_u64..28_000, 150_000_u64..300_000, 60_000_u64..285_000],
        prop_oneof![1_u64..1_000_000, 1_u64..500, 2_000_u64..6_000, 15_000_u64..75_000],
    ), 1..400)) {
        let mut paint = Paint::new(STANDARD);
        for (low, high) in &pulses {
            paint.low(*low).wait(*high);
        }
        let vcd = paint.vcd();
        all_of_it(vcd.as_bytes());
        let report = report(&vcd);
        let activity = report.activity;
        let presences: u64 = report.times.iter()
            .filter(|of| of.time == slotwise_waveform::timing::LineTime::PresenceLow)
            .map(|of| of.count)
            .sum();
        // Those that follow each other within a quarter of a microsecond are one.
        let joined = pulses.iter().rev().skip(1).filter(|(_, high)| *high < 250).count();
        let counted = activity.resets + presences + activity.slots + activity.strays;
        prop_assert_eq!(counted, (pulses.len() - joined) as u64);
    }
}
