//! A second opinion: the firmware for the LM3S6965 on an emulation of that chip that shares no code with ours, the runner on its
//! serial port, and a virtual line on the UART that is the bus master.
//!
//! ```text
//!  hil-runner ══ pseudo-terminal ══ UART 0 ── firmware ── UART 1 ══ socket ══ FarEnd ── virtual line
//!  (as a user starts it)               (qemu-system-arm)                 (a thread of this test)
//! ```
//!
//! What is needed comes in variables, set by `cargo checks --only second-opinion`: the emulator, its libraries, the firmware and
//! the runner. Without them these tests fail, so they run only when they are named.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

#[path = "second_opinion/far_end.rs"]
mod far_end;
#[path = "second_opinion/qemu.rs"]
mod qemu;
#[path = "second_opinion/runner.rs"]
mod runner;

use far_end::{FarEnd, Wiring};
use qemu::Emulator;
use runner::{Runner, wait_until};
use std::time::Duration;

/// Exit codes of the runner.
const ALL_MET: i32 = 0;
const RIG_BROKEN: i32 = 3;

/// The emulator with the firmware, something on its line, and the runner started on its port.
fn start(wiring: Wiring) -> (Emulator, FarEnd, Runner) {
    let (emulator, line) = Emulator::start();
    let far_end = FarEnd::start(line, emulator.rates(), wiring);
    let runner = Runner::start(emulator.port());
    (emulator, far_end, runner)
}

#[test]
fn a_scenario_is_met_on_a_chip_and_a_port_that_are_not_ours() {
    let (emulator, far_end, runner) = start(Wiring::Sensors);
    let ended = runner.wait(Duration::from_secs(45));
    drop(emulator);
    let seen = far_end.finish();
    println!("{}\n{seen:?}", ended.output);
    assert_eq!(ended.code, Some(ALL_MET), "{}", ended.output);
    assert!(ended.output.contains("LM3S6965"), "the report says which chip it was: {}", ended.output);
    assert!(seen.bytes > 1_000, "it went over the line: {seen:?}");
    // As the registers of the chip say, to within what a UART forgives.
    for rate in [9_600, 115_200] {
        assert!(seen.rates.iter().any(|seen| seen.abs_diff(rate) <= rate / 100), "{rate} baud: {seen:?}");
    }
}

#[test]
fn an_emulator_that_is_killed_in_mid_run_is_a_broken_rig_with_a_name() {
    let (mut emulator, far_end, runner) = start(Wiring::Sensors);
    // In the middle of the first search.
    wait_until(Duration::from_secs(20), "the first search", || far_end.bytes() >= 100);
    emulator.kill();
    let ended = runner.wait(Duration::from_secs(10));
    println!("{}", ended.output);
    assert_eq!(ended.code, Some(RIG_BROKEN), "{}", ended.output);
    assert!(ended.output.contains("serial port") && ended.output.contains("gone"), "{}", ended.output);
}

#[test]
fn a_bus_master_that_hears_nothing_is_a_broken_rig() {
    let (_emulator, far_end, runner) = start(Wiring::NoEcho);
    let ended = runner.wait(Duration::from_secs(20));
    println!("{}", ended.output);
    assert!(far_end.bytes() > 0, "it was tried");
    assert_eq!(ended.code, Some(RIG_BROKEN), "{}", ended.output);
}
