//! The page of a captured line in a real browser: what was found is drawn, and can be zoomed into with buttons and keys alone.

use std::fmt::Write;
use std::path::Path;
use std::process::Command;

use serde_json::json;

use super::driver::Browser;

/// A reset with its presence pulse, and CCh of which the first 0 is only 50 us low: a write-0 takes 60 us (DS18B20 datasheet (7/19),
/// AC table).
fn capture() -> String {
    let mut text = "$timescale 1 us $end\n$var wire 1 ! line $end\n$enddefinitions $end\n#0 1!\n".to_owned();
    let mut now = 1_000;
    let lows = [(500, 30), (115, 400), (50, 30), (65, 10), (6, 70), (6, 70), (65, 10), (65, 10), (6, 70), (6, 5_000)];
    for (low, high) in lows {
        let _ = writeln!(text, "#{now} 0!\n#{} 1!", now + low);
        now += low + high;
    }
    let _ = writeln!(text, "#{now}");
    text
}

fn opened(folder: &Path) -> Browser {
    std::fs::write(folder.join("line.vcd"), capture()).unwrap();
    let page = folder.join("page.html");
    let runner = std::env::var("SLOTWISE_RUNNER").expect("SLOTWISE_RUNNER is set by cargo checks --only browser");
    let ran =
        Command::new(runner).arg("waveform").arg(folder.join("line.vcd")).arg("--html").arg(&page).output().unwrap();
    assert_eq!(ran.status.code(), Some(1), "{}", String::from_utf8_lossy(&ran.stderr));
    let browser = Browser::start(1280, 800);
    browser.open(&format!("file://{}", page.display()));
    browser
}

/// How wide the first drawing is, in microseconds, and which low times are written into it.
const SHOWN: &str = "const figure = document.querySelector('figure');
    return { wide: parseFloat(figure.querySelector('output').textContent),
             lows: [...figure.querySelectorAll('text.long')].map(it => it.textContent) };";

#[test]
fn the_line_is_drawn_where_something_was_found_and_can_be_zoomed_into() {
    let folder = tempfile::tempdir().unwrap();
    let browser = opened(folder.path());
    let finding = browser.ask("return document.querySelector('.changes li').innerText");
    assert!(finding.as_str().unwrap().contains("tLOW0, write 0 low: 50 us where >= 60 us is the limit"), "{finding}");
    browser.click(".changes a");
    assert_eq!(browser.ask("return location.hash"), "#wave-1");
    let whole = browser.ask(SHOWN);
    assert!(!whole["lows"].as_array().unwrap().contains(&json!("50 us")), "too narrow to be written: {whole}");
    for _ in 0..3 {
        browser.click("#wave-1 [data-do=in]");
    }
    let near = browser.ask(SHOWN);
    assert_eq!(near["wide"].as_f64().unwrap() * 8.0, whole["wide"].as_f64().unwrap(), "three times by half");
    assert!(near["lows"].as_array().unwrap().contains(&json!("50 us")), "{near}");
    // The same with keys alone, and back.
    browser.ask("document.querySelector('svg.wave').focus()");
    browser.press('+');
    assert!(browser.ask(SHOWN)["wide"].as_f64() < near["wide"].as_f64());
    browser.press('0');
    assert_eq!(browser.ask(SHOWN), whole);
    let outside = browser.complaints();
    assert_eq!(outside, json!([]), "nothing is missing and no script fails");
    assert_eq!(browser.ask("return document.querySelectorAll('link[href^=http],script[src],img').length"), 0);
}

#[test]
fn a_narrow_page_does_not_scroll_sideways() {
    let folder = tempfile::tempdir().unwrap();
    let browser = opened(folder.path());
    let metrics = json!({ "width": 360, "height": 700, "deviceScaleFactor": 2, "mobile": true });
    browser.tool("Emulation.setDeviceMetricsOverride", &metrics);
    assert_eq!(browser.ask("return document.documentElement.scrollWidth <= innerWidth"), true);
}
