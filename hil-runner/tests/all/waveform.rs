//! `hil-runner waveform` from end to end, on waveforms of virtual lines and on files that are no captures.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use crate::common::{Bench, as_its_schema_says, call, command, read, scenario};
use serde_json::Value;

/// What a run of the cellar leaves: its waveform, and how it was called.
fn recorded(bench: &Bench, steps: &[&str]) -> String {
    let scenario = bench.file("scenario.toml", &scenario(steps));
    let run = call(&["run", &scenario, "--seed", "1", "--out", &bench.name("out")]);
    assert!(matches!(run.code, Some(0 | 1)), "{}", run.err);
    bench.name("out/line.vcd")
}

const MEASURE: &str = "measure = { convert = \"together\" }";
const FIND: &str = "find = {}";

/// The report as data, held against the schema that is committed.
fn data(args: &[&str]) -> Value {
    let all: Vec<&str> = ["waveform", "--json"].iter().chain(args).copied().collect();
    let report = call(&all);
    assert!(matches!(report.code, Some(0 | 1)), "{}", report.err);
    as_its_schema_says(&report.out, "waveform/src/waveform.schema.json")
}

fn roms(report: &Value) -> Vec<String> {
    let sensors = report["sensors"].as_array().into_iter().flatten();
    sensors.filter_map(|sensor| sensor["rom"].as_str()).map(str::to_owned).collect()
}

/// The rig file is the outside here: which sensors there are, and that nothing is wrong with them.
#[test]
fn a_waveform_of_our_own_is_decoded_sound_and_read_by_the_driver_again() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND, MEASURE]);
    let report = data(&[&vcd, "--replay"]);
    assert_eq!(report["outcome"], "sound", "{:#}", report["findings"]);
    assert_eq!(report["signal"], "line.dq", "found among the signals of all parties");
    let rig = slotwise_rig::built_in_rig("cellar").unwrap();
    let mut expected: Vec<String> = rig.inventory.iter().map(|sensor| sensor.rom.to_string()).collect();
    expected.sort();
    assert_eq!(roms(&report), expected);
    let replay = &report["replay"];
    assert_eq!((&replay["different"], &replay["searches"]), (&0.into(), &1.into()), "{replay:#}");
    assert!(replay["readings"].as_u64() >= Some(8), "{replay:#}");
    let record: Value = serde_json::from_str(&read(&bench.path("out/record.json"))).unwrap();
    for sensor in report["sensors"].as_array().unwrap() {
        let decoded: f64 = sensor["last_celsius"].as_str().unwrap().parse().unwrap();
        assert_eq!(Some(decoded), last_celsius(&record, &sensor["rom"]), "{sensor:#}");
    }
}

/// The last temperature of a sensor in a record.
fn last_celsius(record: &Value, rom: &Value) -> Option<f64> {
    let steps = record["steps"].as_array().into_iter().flatten();
    let readings = steps.filter_map(|step| step["data"]["readings"].as_array()).flatten();
    let of_sensor = readings.filter(|reading| reading["sensor"]["rom"] == *rom);
    of_sensor.rev().find_map(|reading| reading["outcome"]["read"]["celsius"].as_f64())
}

#[test]
fn a_fault_of_the_line_is_found_and_ends_in_1() {
    let bench = Bench::new();
    let noise = "inject = { noise = { rate = \"2000 /s\", width = \"3 us\" } }";
    let vcd = recorded(&bench, &[FIND, noise, MEASURE]);
    let called = call(&["waveform", &vcd]);
    assert_eq!(called.code, Some(1), "{}", called.err);
    assert!(called.out.contains("FAULTY") && called.out.contains("fault "), "{}", called.out);
}

#[test]
fn transactions_are_listed_one_per_line() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let called = call(&["waveform", &vcd, "--transactions"]);
    let searches =
        called.out.lines().filter(|line| line.contains("Search ROM 28:") || line.contains("Search ROM 10:")).count();
    assert!(searches >= 6, "{}", called.out);
    assert_eq!(called.code, Some(0), "{}", called.out);
}

#[test]
fn the_page_is_one_file_with_the_line_where_something_was_found() {
    let bench = Bench::new();
    let noise = "inject = { noise = { rate = \"2000 /s\", width = \"3 us\" } }";
    let vcd = recorded(&bench, &[FIND, noise, MEASURE]);
    let hostile = bench.name("<img src=x onerror=alert(1)>.vcd");
    std::fs::rename(vcd, &hostile).unwrap();
    let page = bench.name("page.html");
    let called = call(&["waveform", &hostile, "--html", &page]);
    assert_eq!(called.code, Some(1), "{}", called.err);
    let html = read(page.as_ref());
    assert!(html.contains("class=\"wave\"") && html.contains("data-changes=\""), "a drawing");
    assert!(!html.contains("<img src=x"), "a file name is text");
    for outside in ["http:", "https:", "src=\"", "@import", "url("] {
        let inside = html.replace("http://www.w3.org/2000/svg", "");
        assert!(!inside.contains(outside), "{outside}: the page needs nothing from outside");
    }
}

#[test]
fn what_is_no_capture_is_refused_with_2() {
    let bench = Bench::new();
    let text = bench.file("text.vcd", "hello\n");
    let empty = bench.file("empty.vcd", "");
    let folder = bench.name("");
    for (file, says) in [
        (text.as_str(), "line 1"),
        (&empty, "is empty"),
        (&folder, "directory"),
        ("/nowhere.vcd", "No such file"),
        ("/dev/null", "is empty"),
    ] {
        let called = call(&["waveform", file]);
        assert_eq!(called.code, Some(2), "{file}: {}{}", called.out, called.err);
        assert!(called.err.contains(says) && called.out.is_empty(), "{file}: {}", called.err);
    }
    let nothing = call(&["waveform"]);
    assert_eq!(nothing.code, Some(2));
    let page = call(&["waveform", &text, "--html", "/nowhere/page.html"]);
    assert_eq!(page.code, Some(2));
    assert!(page.err.contains("--html"), "{}", page.err);
}

/// Two lines in one capture.
fn two_lines() -> String {
    let mut text =
        "$timescale 1 us $end $var wire 1 ! left $end $var wire 1 % right $end $enddefinitions $end\n#0 1! 1%\n"
            .to_owned();
    let mut now = 1_000;
    for low in [500, 115].into_iter().chain([6; 16]) {
        let _ = writeln!(text, "#{now} 0! 0%\n#{} 1! 1%", now + low);
        now += low
            + if low == 500 {
                28
            } else if low == 115 {
                400
            } else {
                70
            };
    }
    text
}

#[test]
fn where_it_is_not_clear_which_signal_is_meant_there_is_a_list() {
    let bench = Bench::new();
    let file = bench.file("two.vcd", &two_lines());
    let called = call(&["waveform", &file]);
    assert_eq!(called.code, Some(2));
    for part in ["2 signals that look like a line", "--signal", "left", "right", "presence pulses"] {
        assert!(called.err.contains(part), "{part}: {}", called.err);
    }
    let called = call(&["waveform", &file, "--signal", "middle"]);
    assert_eq!(called.code, Some(2));
    assert!(called.err.contains("no signal \"middle\"") && called.err.contains("left"), "{}", called.err);
    assert!(matches!(call(&["waveform", &file, "--signal", "left"]).code, Some(0 | 1)));
}

#[test]
fn a_pipe_is_as_good_as_a_file() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let from_file = call(&["waveform", &vcd, "--json"]);
    let mut cat = std::process::Command::new("cat").arg(&vcd).stdout(std::process::Stdio::piped()).spawn().unwrap();
    let output = command(&["waveform", "/dev/stdin", "--json"]).stdin(cat.stdout.take().unwrap()).output().unwrap();
    assert!(cat.wait().unwrap().success());
    assert_eq!(String::from_utf8(output.stdout).unwrap(), from_file.out);
}

#[test]
fn a_closed_pipe_is_no_error_and_a_full_disk_is_one() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let mut child =
        command(&["waveform", &vcd, "--transactions"]).stdout(std::process::Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    assert_eq!(command(&["waveform", &vcd]).stdout(full).status().unwrap().code(), Some(2));
}

#[test]
fn transactions_are_lines_of_json_and_the_report_is_the_last() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let called = call(&["waveform", &vcd, "--transactions", "--json"]);
    assert_eq!(called.code, Some(0), "{}", called.err);
    let lines: Vec<Value> =
        called.out.lines().map(|line| as_its_schema_says(line, "waveform/src/lines.schema.json")).collect();
    let (last, transactions) = lines.split_last().unwrap();
    assert_eq!(last["report"], data(&[&vcd]));
    assert_eq!(Some(transactions.len() as u64), last["report"]["activity"]["resets"].as_u64());
    assert!(transactions.iter().all(|line| line["transaction"]["reset"]["low_ns"].is_u64()));
}

#[test]
fn the_capture_is_never_written_over() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let before = read(Path::new(&vcd));
    let linked = bench.path("linked.vcd");
    std::fs::hard_link(&vcd, &linked).unwrap();
    for page in [PathBuf::from(&vcd), linked, bench.path("out/../out/line.vcd")] {
        let called = call(&["waveform", &vcd, "--html", &page.to_string_lossy()]);
        assert_eq!(called.code, Some(2), "{}", called.out);
        assert!(called.err.contains("found capture "), "{}", called.err);
    }
    assert_eq!(read(Path::new(&vcd)), before);
}

#[test]
fn the_name_of_a_file_has_no_say_over_the_terminal() {
    let bench = Bench::new();
    let vcd = recorded(&bench, &[FIND]);
    let evil = bench.path("a\u{1b}[31mb.vcd").to_string_lossy().into_owned();
    std::fs::copy(&vcd, &evil).unwrap();
    let page = bench.path("page.html");
    let shown = page.to_string_lossy();
    let missing = format!("{evil}.missing");
    for arguments in [vec!["waveform", &evil, "--html", &shown], vec!["waveform", &missing]] {
        let called = call(&arguments);
        assert!(!called.out.contains('\u{1b}') && !called.err.contains('\u{1b}'), "{:?} {:?}", called.out, called.err);
    }
    assert!(!read(&page).contains('\u{1b}'));
}

/// The beginning of such a capture, of at least so many bytes.
#[cfg(unix)]
fn transactions(bytes: usize) -> String {
    /// Takes no more than that.
    struct Until(Vec<u8>, usize);
    impl std::io::Write for &mut Until {
        fn write(&mut self, text: &[u8]) -> std::io::Result<usize> {
            if self.0.len() >= self.1 {
                return Err(std::io::ErrorKind::BrokenPipe.into());
            }
            self.0.extend_from_slice(text);
            Ok(text.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let mut until = Until(Vec::new(), bytes);
    endless(&mut until);
    String::from_utf8(until.0).unwrap()
}

/// A line that never rests, as a capture that never ends.
#[cfg(unix)]
fn endless(mut out: impl std::io::Write) {
    let mut text = "$timescale 1 us $end $var wire 1 ! line $end $enddefinitions $end\n#0 1!\n".to_owned();
    let mut now = 1_000_u64;
    loop {
        let mut low = |us: u64, then_us: u64| {
            let _ = writeln!(text, "#{now} 0!\n#{} 1!", now + us);
            now += us + then_us;
        };
        low(500, 28);
        low(115, 400);
        // Skip ROM, CCh.
        [65, 65, 6, 6, 65, 65, 6, 6].into_iter().for_each(|us| low(us, 75 - us));
        // The reader has gone.
        if out.write_all(text.as_bytes()).is_err() {
            return;
        }
        text.clear();
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_it_with_a_report_on_what_was_read_so_far() {
    let mut child = command(&["waveform", "/dev/stdin", "--json", "--transactions"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let stdin = child.stdin.take().unwrap();
    let writer = std::thread::spawn(move || endless(stdin));
    let mut lines = std::io::BufRead::lines(std::io::BufReader::new(child.stdout.take().unwrap()));
    assert!(lines.next().unwrap().unwrap().contains("transaction"));
    let status = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(status.success());
    let last = lines.map(Result::unwrap).last().unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    writer.join().unwrap();
    let report: Value = serde_json::from_str(&last).unwrap();
    let unjudged = report["report"]["unjudged"].as_array().unwrap();
    assert!(unjudged.iter().any(|part| part["what"] == "rest"), "{unjudged:?}");
    assert!(report["report"]["activity"]["resets"].as_u64() > Some(0));
}

/// A pipe whose writer is there and says nothing more.
#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_wait_for_a_silent_pipe_with_a_report_on_what_was_read() {
    let mut child = command(&["waveform", "/dev/stdin", "--json"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    // More than a pipe holds: once it is written, the reader is at work, and hears the signal.
    std::io::Write::write_all(&mut stdin, transactions(2 << 20).as_bytes()).unwrap();
    let status = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(status.success());
    let out = child.wait_with_output().unwrap();
    drop(stdin);
    assert_eq!(out.status.code(), Some(1));
    let report: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert!(report["unjudged"].as_array().unwrap().iter().any(|part| part["what"] == "rest"), "{report}");
    assert!(report["activity"]["resets"].as_u64() > Some(0));
}

#[test]
fn doubts_fail_only_where_they_are_to() {
    let bench = Bench::new();
    // 85 degC, the power-on value, of a sensor that never converted.
    let vcd = recorded(&bench, &[FIND, "measure = { convert = \"not\", doubt = \"no conversion\" }"]);
    let called = call(&["waveform", &vcd]);
    assert!(called.code == Some(0) && called.out.contains("SOUND, with doubts"), "{}{}", called.out, called.err);
    let called = call(&["waveform", &vcd, "--doubts-fail"]);
    assert_eq!(called.code, Some(1), "{}", called.out);
}
