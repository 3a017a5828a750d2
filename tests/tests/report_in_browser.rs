//! The report of a night in a real browser: a person finds the step that failed, and so does one who has only a keyboard, a phone, or
//! a screen reader.
//!
//! What is needed comes in variables, set by `cargo checks --only browser`: the browser, its driver, their libraries and the runner.
//! Without them these tests fail, so they run only when they are named.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

#[path = "report_in_browser/driver.rs"]
mod driver;
#[path = "report_in_browser/waveform.rs"]
mod waveform;

use std::path::{Path, PathBuf};
use std::process::Command;

use driver::Browser;
use serde_json::json;

/// A label that would take the page over if it were not escaped.
const HOSTILE: &str = "brine <img src=x onerror=document.title='taken'>";
/// Codes of keys in the WebDriver standard.
const TAB: char = '\u{E004}';
const ENTER: char = '\u{E007}';

/// A night in which the first step of the second run fails, by a sensor with a hostile label; twice, so that there is a past.
fn report(folder: &Path) -> String {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned();
    let cellar = std::fs::read_to_string(root.join("fixtures/rigs/cellar.toml")).unwrap();
    let wrong = cellar
        .replace("\"brine bath\"", &format!("{HOSTILE:?}"))
        .replace("offset = \"0.05 degC\"", "offset = \"1.5 degC\"");
    assert!(wrong.contains("onerror") && wrong.contains("1.5 degC"));
    std::fs::write(folder.join("wrong.toml"), wrong).unwrap();
    let night = "scenario = \"night\"\n[[step]]\nlabel = \"all are found\"\nfind = {}\n\
                 [[step]]\nlabel = \"all are right\"\nmeasure = { near = { reference = \"rig\", within = \"0.5 degC\" } }\n\
                 [[step]]\nlabel = \"each measures\"\nmeasure = { convert = \"one by one\", in_time = true }\n";
    std::fs::write(folder.join("night.toml"), night).unwrap();
    let entry = |rig: &str| format!("[[run]]\nrig = \"{rig}\"\nscenarios = [\"night.toml\"]\nseed = 1\n");
    let plan = format!("plan = \"test\"\n{}{}", entry("cellar"), entry("wrong.toml"));
    std::fs::write(folder.join("plan.toml"), plan).unwrap();
    for date in ["2026-03-01", "2026-03-02"] {
        let runner = std::env::var("SLOTWISE_RUNNER").expect("SLOTWISE_RUNNER is set by cargo checks --only browser");
        let ran = Command::new(runner).arg("nightly").arg(folder.join("plan.toml")).args(["--date", date]).output();
        let ran = ran.unwrap();
        assert_eq!(ran.status.code(), Some(1), "{}", String::from_utf8_lossy(&ran.stderr));
    }
    format!("file://{}", folder.join("nights/2026-03-02/index.html").display())
}

fn opened(width: u32, height: u32) -> (tempfile::TempDir, Browser) {
    let folder = tempfile::tempdir().unwrap();
    let url = report(folder.path());
    let browser = Browser::start(width, height);
    browser.open(&url);
    (folder, browser)
}

/// The visible part of the page that reports the failed step.
const SEEN: &str = "const it = document.querySelector(location.hash || '#nowhere'); if (!it) return null;
    const box = it.getBoundingClientRect();
    return { text: it.innerText, in_view: box.top >= 0 && box.top < innerHeight, run: it.closest('section').innerText };";

#[test]
fn the_failing_step_is_found_from_the_top_by_its_link() {
    let (_folder, browser) = opened(1280, 800);
    let verdict = browser.ask("return document.getElementById('verdict').innerText");
    assert!(verdict.as_str().unwrap().starts_with("1 of 2 runs passed"), "{verdict}");
    assert_eq!(browser.ask(SEEN), json!(null));
    browser.click("#to-first-failure");
    let seen = browser.ask(SEEN);
    assert_eq!(seen["in_view"], true, "{seen}");
    let text = seen["text"].as_str().unwrap();
    for part in ["Step 2: all are right", HOSTILE, "28:2F77DB9A6005:02", "within 0.5 degC"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(seen["run"].as_str().unwrap().starts_with("night on cellar"), "{seen}");
}

#[test]
fn a_keyboard_is_enough() {
    let (_folder, browser) = opened(1280, 800);
    let focused = || browser.ask("return document.activeElement.id || document.activeElement.className");
    browser.press(TAB);
    assert_eq!(focused(), "skip");
    browser.press(TAB);
    assert_eq!(focused(), "to-first-failure");
    browser.press(ENTER);
    assert_eq!(browser.ask(SEEN)["in_view"], true);
}

#[test]
fn nothing_is_loaded_nothing_complains_and_no_label_is_obeyed() {
    let (_folder, browser) = opened(1280, 800);
    assert_eq!(browser.ask("return performance.getEntriesByType('resource').map(it => it.name)"), json!([]));
    assert_eq!(browser.complaints(), json!([]));
    assert_eq!(browser.ask("return document.title"), "test, night of 2026-03-02");
    assert_eq!(browser.ask("return document.querySelectorAll('img, script').length"), 0);
    // Every link of the page leads to a place on it or to a file of a run beside it, and no two places have one name.
    let broken = "return [...document.querySelectorAll('a')].map(it => it.getAttribute('href'))
        .filter(to => !/^[0-9]+-[a-z-]+\\/(report\\.html|record\\.json)$/.test(to))
        .filter(to => !to.startsWith('#') || !document.getElementById(to.slice(1)))";
    assert_eq!(browser.ask(broken), json!([]));
    let twice = "const ids = [...document.querySelectorAll('[id]')].map(it => it.id);
        return ids.filter((id, at) => ids.indexOf(id) !== at)";
    assert_eq!(browser.ask(twice), json!([]));
}

#[test]
fn a_phone_shows_it_without_moving_sideways() {
    let (_folder, browser) = opened(360, 740);
    assert_eq!(browser.ask("return innerWidth"), 360);
    assert!(browser.ask("return document.documentElement.scrollWidth").as_u64().unwrap() <= 360);
    // With everything open as well.
    browser.ask("document.querySelectorAll('details').forEach(it => it.open = true)");
    assert!(browser.ask("return document.documentElement.scrollWidth").as_u64().unwrap() <= 360);
}

#[test]
fn a_screen_reader_has_names_for_everything() {
    let (_folder, browser) = opened(1280, 800);
    assert_eq!(browser.ask("return document.querySelectorAll('h1').length"), 1);
    assert!(browser.ask("return document.querySelectorAll('svg[role=img]').length").as_u64().unwrap() >= 8);
    let nameless = "return [...document.querySelectorAll('svg[role=img]')].filter(it =>
        !it.getAttribute('aria-labelledby').split(' ').every(id => document.getElementById(id)?.textContent)).length";
    assert_eq!(browser.ask(nameless), 0);
    let nameless = "return [...document.querySelectorAll('table')].filter(it => !it.caption?.innerText &&
        !it.caption?.textContent).length";
    assert_eq!(browser.ask(nameless), 0);
    let unlabelled = "return [...document.querySelectorAll('th')].filter(it => !it.scope).length";
    assert_eq!(browser.ask(unlabelled), 0);
    let skipped = "let last = 1; return [...document.querySelectorAll('h1, h2, h3, h4')].filter(it => {
        const level = +it.tagName[1]; const bad = level > last + 1; last = level; return bad; }).map(it => it.innerText)";
    assert_eq!(browser.ask(skipped), json!([]));
    for landmark in ["header", "main", "footer"] {
        assert_eq!(browser.ask(&format!("return document.querySelectorAll('body > {landmark}').length")), 1);
    }
    assert_eq!(browser.ask("return document.documentElement.lang"), "en");
}

/// Pieces of text whose contrast with what is behind them is below 4.5 (WCAG 2.2, success criterion 1.4.3), and how it is computed.
const TOO_FAINT: &str = "
    const part = c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    const numbers = text => (text.match(/[\\d.]+/g) || []).map(Number);
    const behind = it => { for (; it; it = it.parentElement) {
        const c = numbers(getComputedStyle(it).backgroundColor); if (c.length === 3 || c[3] > 0) return c; }
        return [255, 255, 255]; };
    return [...document.querySelectorAll('body *')].filter(it =>
        [...it.childNodes].some(node => node.nodeType === 3 && node.data.trim())).filter(it => !it.closest('title, desc'))
        .map(it => { const svg = it.closest('svg'); const style = getComputedStyle(it);
            const ink = light(numbers(svg ? style.fill : style.color)); const paper = light(behind(svg ? svg : it));
            return [it.textContent.trim().slice(0, 40), (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05)]; })
        .filter(([, contrast]) => !(contrast >= 4.5));";

#[test]
fn light_and_dark_can_both_be_read() {
    let (_folder, browser) = opened(1280, 800);
    let mut papers = Vec::new();
    for scheme in ["light", "dark"] {
        let features = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        browser.tool("Emulation.setEmulatedMedia", &features);
        browser.ask("document.querySelectorAll('details').forEach(it => it.open = true)");
        assert_eq!(browser.ask(TOO_FAINT), json!([]), "{scheme}");
        papers.push(browser.ask("return getComputedStyle(document.body).backgroundColor"));
    }
    assert_ne!(papers[0], papers[1]);
}

#[test]
fn paper_shows_what_is_folded_and_cut_off_on_a_screen() {
    let (_folder, browser) = opened(1280, 800);
    let height = "return document.documentElement.scrollHeight";
    let screen = browser.ask(height).as_u64().unwrap();
    browser.tool("Emulation.setEmulatedMedia", &json!({ "media": "print" }));
    let shown = "return [...document.querySelectorAll('details table')].filter(it => !it.checkVisibility()).length";
    assert_eq!(browser.ask(shown), 0);
    assert!(browser.ask(height).as_u64().unwrap() > screen);
    let cut = "return [...document.querySelectorAll('.scroll')].filter(it => getComputedStyle(it).overflowX !== 'visible').length";
    assert_eq!(browser.ask(cut), 0);
}
