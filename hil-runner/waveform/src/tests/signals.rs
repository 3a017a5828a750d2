//! Which signal is read, and that no way of writing the same line makes a difference.

use std::fmt::Write;

use crate::capture::{Capture, OpenError, Resemblance, choose};
use crate::paint::{Paint, STANDARD, report};
use crate::{ChooseError, SourceError, WaveformSource};

const ROM: [u8; 8] = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D];

fn paint() -> Paint {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[]);
    paint
}

/// A signal: its name, its changes, and how high is written.
type Named<'a> = (&'a str, Vec<(u64, bool)>, char);

fn together(signals: &[Named<'_>]) -> String {
    let mut text = "$timescale 1ns $end $scope module top $end\n".to_owned();
    let code = |place: usize| char::from(b'!' + u8::try_from(place).unwrap());
    for (place, (name, ..)) in signals.iter().enumerate() {
        let _ = writeln!(text, "$var wire 1 {} {name} $end", code(place));
    }
    text.push_str("$upscope $end $enddefinitions $end\n");
    let mut all: Vec<(u64, usize, bool)> = Vec::new();
    for (place, (_, changes, _)) in signals.iter().enumerate() {
        all.extend(changes.iter().map(|(at, is_high)| (*at, place, *is_high)));
    }
    all.sort_unstable();
    for (at, place, is_high) in all {
        let _ = writeln!(text, "#{at}\n{}{}", if is_high { signals[place].2 } else { '0' }, code(place));
    }
    text
}

fn source(text: &str) -> Result<WaveformSource<'static>, SourceError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("some.vcd");
    std::fs::write(&path, text).unwrap();
    WaveformSource::open(&path, || false)
}

/// A clock.
fn clock() -> Vec<(u64, bool)> {
    (0..2_000).map(|tick| (tick * 500, tick % 2 == 0)).collect()
}

/// A serial port at some rate, idle between bytes: low start bit, eight bits, high stop bit.
fn serial_port(baud: u64) -> Vec<(u64, bool)> {
    let mut changes = vec![(0, true)];
    let mut now = 1_000_000;
    for byte in (0..=255_u16).cycle().take(600) {
        let mut bits = byte << 1 | 0x200;
        for _ in 0..10 {
            changes.push((now, bits & 1 == 1));
            bits >>= 1;
            now += 1_000_000_000 / baud;
        }
        now += 300_000;
    }
    changes.dedup_by_key(|(_, is_high)| *is_high);
    changes
}

#[test]
fn a_serial_port_is_no_line() {
    for baud in [300, 1_200, 2_400, 4_800, 9_600, 14_400, 19_200, 31_250, 38_400, 57_600, 115_200] {
        let both = together(&[("tx", serial_port(baud), '1'), ("dq", paint().changes, '1')]);
        assert_eq!(source(&both).unwrap().choose(None).unwrap().signal, 1, "{baud}");
    }
}

#[test]
fn the_signal_that_looks_like_a_line_is_found_among_others() {
    let line = paint().changes;
    // The master's own pin falls with it and rises with it, but makes no presence pulse.
    let mut master = Paint::new(STANDARD);
    master.lonely_reset().write(&[0xF0]);
    let text = together(&[("clk", clock(), '1'), ("pin", master.changes, 'z'), ("dq", line, '1')]);
    let source = source(&text).unwrap();
    assert_eq!(source.choose(None).unwrap().signal, 2);
    assert_eq!(source.choose(Some("pin")).unwrap().signal, 1);
    assert_eq!(source.choose(Some("top.dq")).unwrap().signal, 2);
    let resemblances: Vec<Resemblance> = source.signals().map(|(_, looks)| looks.resemblance()).collect();
    assert_eq!(resemblances, [Resemblance::None, Resemblance::Master, Resemblance::Line]);
}

#[test]
fn where_two_look_like_one_or_none_does_nothing_is_guessed() {
    let two = together(&[("a", paint().changes, '1'), ("b", paint().changes, '1')]);
    assert!(matches!(source(&two).unwrap().choose(None), Err(ChooseError::SeveralLines { count: 2 })));
    let none = together(&[("a", clock(), '1'), ("b", vec![(0, true)], '1')]);
    assert!(matches!(source(&none).unwrap().choose(None), Err(ChooseError::NoLine)));
    assert!(matches!(source(&none).unwrap().choose(Some("c")), Err(ChooseError::NotFound { .. })));
    let same = together(&[("a", paint().changes, '1'), ("a", clock(), '1')]);
    assert!(matches!(source(&same).unwrap().choose(Some("a")), Err(ChooseError::NotUnique { count: 2, .. })));
    // The only signal is taken whatever it looks like.
    let one = together(&[("a", clock(), '1')]);
    assert_eq!(source(&one).unwrap().choose(None).unwrap().signal, 0);
}

#[test]
fn every_way_of_writing_the_same_line_gives_the_same_report() {
    let plain = paint().vcd();
    let expected = report(&plain);
    assert_eq!(expected.sensors[0].rom.as_deref(), Some("28:EE94F7271601:8D"));
    let let_go = plain.replace(" 1!", " z!");
    let vector = plain.replace(" 1!", " b1 !").replace(" 0!", " b0 !");
    let picoseconds = {
        let text = plain.replace("1 ns", "10ps");
        text.lines().map(|line| if line.starts_with('#') { line.replacen(' ', "00 ", 1) } else { line.into() }).fold(
            String::new(),
            |mut text, line: String| {
                // The last time stands alone.
                text.push_str(&if line.starts_with('#') && !line.contains(' ') { format!("{line}00") } else { line });
                text.push('\n');
                text
            },
        )
    };
    let windows = plain.replace('\n', "\r\n");
    let without_end = plain.trim_end().to_owned();
    for text in [let_go, vector, picoseconds, windows, without_end] {
        assert_eq!(report(&text), expected, "{}", &text[..200]);
    }
}

#[test]
fn a_name_with_blanks_is_a_name() {
    let text = paint().vcd().replace(" line $end", " my line [0] $end");
    let source = source(&text).unwrap();
    for name in ["my_line", "my line", "my_line[0]", "bench.my_line[0]", "bench.my line[0]"] {
        assert_eq!(source.choose(Some(name)).unwrap().signal, 0);
    }
    assert_eq!(report(&text).activity, report(&paint().vcd()).activity);
}

#[test]
fn an_inverted_signal_is_read_the_other_way_round() {
    let mut paint = Paint::new(STANDARD);
    paint.search(ROM, &[]).wait(50_000_000).search(ROM, &[]).wait(50_000_000).search(ROM, &[]);
    let plain = paint.report();
    for (_, is_high) in &mut paint.changes {
        *is_high = !*is_high;
    }
    let report = paint.report();
    assert!(report.is_inverted && !plain.is_inverted);
    assert_eq!((report.activity, report.outcome, report.times), (plain.activity, plain.outcome, plain.times));
    // Beside others, too.
    let both = together(&[("clk", clock(), '1'), ("dq", paint.changes, '1')]);
    let chosen = source(&both).unwrap().choose(None).unwrap();
    assert_eq!((chosen.signal, chosen.is_inverted), (1, true));
}

#[test]
fn an_unknown_level_is_no_edge() {
    let mut paint = paint();
    let vcd = paint.vcd();
    // Before the first edge nothing is known.
    let unknown = vcd.replacen("#0 1!", "#0 x!\n#500 1!", 1);
    assert_eq!(report(&unknown).activity, report(&vcd).activity);
    paint.changes.clear();
    assert!(report(&paint.vcd()).activity.resets == 0);
}

#[test]
fn files_that_are_no_captures_are_refused_by_name() {
    let open = |text: &str| Capture::open(std::io::Cursor::new(text.as_bytes().to_vec())).map(|_| ());
    assert!(matches!(open(""), Err(OpenError::Empty)));
    assert!(matches!(open("hello, world\n"), Err(OpenError::Header { line: 1, .. })));
    assert!(matches!(open("$timescale 1 ns $end\n$var wire 1 ! a $end\n"), Err(OpenError::Header { .. })));
    assert!(matches!(open("$var wire 1 ! a $end $enddefinitions $end"), Err(OpenError::NoTimescale)));
    assert!(matches!(open("$timescale 0 ns $end $enddefinitions $end"), Err(OpenError::ZeroTimescale)));
    assert!(matches!(open("$timescale 1 ns $end $var wire 8 ! a $end $enddefinitions $end"), Err(OpenError::NoSignal)));
    let deep = "$scope module a $end ".repeat(100_000);
    assert!(matches!(open(&deep), Err(OpenError::TooDeep { .. })));
    let many: String = (0..5_000).map(|place| format!("$var wire 1 a{place} s{place} $end\n")).collect();
    assert!(matches!(open(&many), Err(OpenError::TooManySignals { .. })));
}

#[test]
fn the_steps_of_a_capture_are_the_common_measure_of_its_times() {
    let step = |text: String| choose(Capture::open(std::io::Cursor::new(text.into_bytes())).unwrap()).1;
    assert_eq!(step(paint().vcd()), Some(1_000), "everything here is painted in whole microseconds");
    assert_eq!(step(paint().vcd().replace("1 ns", "10 ns")), Some(10_000));
    let mut odd = paint();
    odd.wait(125).write(&[0]);
    assert_eq!(step(odd.vcd()), Some(125));
}

#[test]
fn signals_of_the_same_name_and_names_of_the_same_signal_can_be_separated() {
    let line = paint().vcd();
    let header = "$scope module bench $end $var wire 1 # d [3] $end $var wire 1 % d [4] $end $var logic 1 ! alias $end \
                  $var wire 1 & d [3] $end $upscope $end $enddefinitions";
    let source = source(&line.replace("$enddefinitions", header)).unwrap();
    let names: Vec<&str> = source.signals().map(|(name, _)| name).collect();
    assert_eq!(names, ["bench.line", "bench.d[3]", "bench.d[4]", "bench.d[3]#2"]);
    let chosen = |name| source.choose(Some(name)).map(|chosen| chosen.signal);
    assert_eq!((chosen("alias").unwrap(), chosen("bench.alias").unwrap()), (0, 0));
    assert_eq!((chosen("d[4]").unwrap(), chosen("bench.d[3]#2").unwrap()), (2, 3));
    assert!(matches!(chosen("d"), Err(ChooseError::NotUnique { count: 3, .. })));
}

/// Newer languages than the standard's have other types and commands, on signals that are not read here.
#[test]
fn what_the_standard_does_not_have_does_no_harm() {
    let line = paint().vcd();
    let more = "$scope interface bus $end $var logic 8 # data [7:0] $end $var enum 1 % state $end $upscope $end\n\
                $attrbegin misc 07 some 1 $end $var shortreal 64 & level $end $enddefinitions";
    let text = line.replace("$enddefinitions", more).replacen("#0 1!", "#0 1! bx # 0% r1.5 &", 1);
    let expected = report(&line);
    let read = report(&text);
    assert_eq!(
        (read.activity, read.damaged, read.outcome),
        (expected.activity, 0, expected.outcome),
        "{:?}",
        read.damages
    );
    // One line of the header that says nothing: the signal is lost, the others are not.
    let text = line.replace("$enddefinitions", "$var wire x [7 $end $enddefinitions").replace(" 1!", " 1! 1x");
    assert_eq!((report(&text).damaged, report(&text).damages[0].line), (1, 5));
    assert_eq!(report(&text).activity.resets, expected.activity.resets);
}
