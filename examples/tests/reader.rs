//! The reader gets what the other examples write, whole or torn.
#![allow(clippy::unwrap_used)] // helpers of tests

use std::io::Write;
use std::process::{Command, Stdio};

use slotwise::bus::Bus;
use slotwise::line::{PinLine, Timing};
use slotwise_examples::reader::{Event, Reader, Report, Why};
use slotwise_report_line::{LINE_BYTES, Lines, Refused, measure_together};
use slotwise_virtual_line::{LineConfig, Part, SensorConfig, VirtualLine};

/// What a chip sends: the code of the examples, on a virtual line with two sensors.
fn sent(rounds: usize) -> String {
    let line = VirtualLine::new(LineConfig::default(), 1).unwrap();
    // Rows of Table 1 of the DS18B20 datasheet (7/19).
    for (serial, millicelsius) in [(1, 10_125), (2, -10_125)] {
        let id = line.attach(SensorConfig::new(Part::Ds18b20, serial)).unwrap();
        line.set_sensor_ambient_millicelsius(id, Some(millicelsius)).unwrap();
    }
    line.advance_ns(1_000_000_000_000); // until the sensors have the temperature of their surroundings
    let mut bus = Bus::new(PinLine::new(line.pin(), line.delay(), Timing::SHORT_LINE).unwrap());
    let mut lines = Lines::new("barn");
    let mut text = String::new();
    for _ in 0..rounds {
        measure_together(&mut bus, &mut lines, |line| text.push_str(&line)).unwrap();
    }
    text
}

fn events(bytes: &[u8]) -> Vec<Event> {
    let (mut reader, mut events) = (Reader::default(), Vec::new());
    reader.take(bytes, |event| events.push(event));
    reader.finish(|event| events.push(event));
    events
}

fn reports(events: &[Event]) -> Vec<Report> {
    let report = |event: &Event| if let Event::Report(report) = event { Some(report.clone()) } else { None };
    events.iter().filter_map(report).collect()
}

fn refused(why: Refused) -> Event {
    Event::Refused(Why::Check(why))
}

#[test]
fn what_the_examples_write_is_read_whole() {
    let events = events(sent(1).as_bytes());
    let reports = reports(&events);
    assert_eq!(reports.len(), events.len());
    let mut millicelsius: Vec<i32> =
        reports.iter().map(|report| report.outcome.clone().unwrap().millicelsius).collect();
    millicelsius.sort_unstable();
    assert_eq!(millicelsius, [-10_125, 10_125]);
    for report in reports {
        let measured = report.outcome.unwrap();
        assert_eq!((report.from.as_str(), measured.evidence.as_str()), ("barn", "seen busy"));
        assert_eq!(measured.doubts, [""; 0]);
    }
}

#[test]
fn it_does_not_matter_in_which_pieces_bytes_arrive() {
    let text = sent(2);
    let (mut reader, mut pieces) = (Reader::default(), Vec::new());
    for byte in text.bytes() {
        reader.take(&[byte], |event| pieces.push(event));
    }
    assert_eq!(pieces, events(text.as_bytes()));
    let with_returns = text.replace('\n', "\r\n\r\n");
    assert_eq!(events(with_returns.as_bytes()), events(text.as_bytes()));
}

#[test]
fn whatever_part_is_missing_no_line_is_read_that_was_not_sent() {
    let text = sent(2);
    let whole = reports(&events(text.as_bytes()));
    assert_eq!(whole.len(), 4);
    for from in (0..text.len()).step_by(5) {
        for to in (from + 1..text.len()).step_by(7) {
            let mut torn = text.as_bytes().to_vec();
            torn.drain(from..to);
            let read = reports(&events(&torn));
            let (first, last) = (text[..from].matches('\n').count(), text[to..].matches('\n').count());
            // All lines before the gap, and all but the one that it ends in, which it may have spared.
            assert!(read.starts_with(&whole[..first]), "{from}..{to}");
            assert!(read.ends_with(&whole[whole.len() - last.saturating_sub(1)..]), "{from}..{to}");
            assert!(read.iter().all(|report| whole.contains(report)), "{from}..{to}: {read:?}");
        }
    }
}

#[test]
fn torn_damaged_and_endless_lines_are_named_and_the_next_is_read() {
    let text = sent(1);
    let first = text.lines().next().unwrap();
    let half = &first[first.len() / 2..];
    let found = events(format!("{}\n{text}", &first[..40]).as_bytes());
    assert_eq!((&found[0], reports(&found).len()), (&refused(Refused::Torn), 2));
    // Both ends of a line, and another middle.
    let found = events(format!("{half}\n{}\n{text}", first.replace("barn", "born")).as_bytes());
    assert_eq!((&found[..2], reports(&found).len()), (&[refused(Refused::Damaged), refused(Refused::Damaged)][..], 2));
    let found = events(format!("{}\n{text}", "x".repeat(10 * LINE_BYTES)).as_bytes());
    assert_eq!((&found[0], reports(&found).len()), (&Event::Refused(Why::TooLong), 2));
    let mut noise = vec![0xFF, 0x00, b'\n'];
    noise.extend(text.bytes());
    assert_eq!((&events(&noise)[0], reports(&events(&noise)).len()), (&refused(Refused::Damaged), 2));
    assert_eq!(events(&first.as_bytes()[..30]), [refused(Refused::Torn)]);
}

#[test]
fn missing_lines_are_counted_and_a_restart_is_seen() {
    let text = sent(3);
    let lines: Vec<&str> = text.lines().collect();
    let input = [lines[0], lines[4], lines[5], lines[0]].join("\n") + "\n";
    let found = events(input.as_bytes());
    assert_eq!(found[1], Event::Missed { from: "barn".into(), lines: 3 });
    assert_eq!(found[4], Event::Restarted { from: "barn".into() });
    assert_eq!(found.len(), 6);
}

#[test]
fn a_sensor_and_a_line_without_a_reading_are_reports_too() {
    let mut lines = Lines::new("barn");
    let rom = "28:010000000000:29".parse().unwrap();
    let text = format!("{}{}", lines.failure(rom, "no \"answer\""), lines.trouble("line stuck low"));
    let read = reports(&events(text.as_bytes()));
    assert_eq!((read[0].rom, read[0].outcome.clone()), (Some(rom), Err("no 'answer'".into())));
    assert_eq!((read[1].rom, read[1].outcome.clone()), (None, Err("line stuck low".into())));
}

#[test]
fn a_line_that_is_whole_and_says_something_else_is_unknown() {
    let text = "{\"from\":\"barn\",\"count\":0";
    let line = format!("{text},\"crc16\":\"{:04X}\"}}\n", slotwise::bus::crc16(text.as_bytes()));
    assert_eq!(events(line.as_bytes()), [Event::Refused(Why::Unknown)]);
}

#[test]
fn the_program_prints_readings_and_keeps_troubles_apart() {
    let text = sent(1);
    let mut reader = Command::new(env!("CARGO_BIN_EXE_reader"));
    let mut reader =
        reader.arg("-").stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut input = reader.stdin.take().unwrap();
    input.write_all(format!("{}\n{text}", &text[10..50]).as_bytes()).unwrap();
    drop(input);
    let output = reader.wait_with_output().unwrap();
    assert!(output.status.success());
    let (readings, troubles) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert_eq!(troubles, "torn line\n");
    assert_eq!(readings.lines().count(), 2, "{readings}");
    assert!(readings.contains("barn  28:010000000000:29     10.125 degC  seen busy\n"), "{readings}");
}
