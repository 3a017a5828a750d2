//! The bridge on an nRF52833: starts the crystal, puts the switches where they do no harm, and serves.

#![no_std]
#![no_main]

mod board;
#[cfg(feature = "serial")]
mod serial;

use cortex_m_rt::entry;
use nrf52833_hal::gpio::{Level, OpenDrainConfig, p0};
use nrf52833_hal::pac;
use slotwise_bridge::message::{Position, ResetCause};
use slotwise_bridge::watch::{Clock, Watch};
use slotwise_bridge::{Host, Interlock, NoGuard, RigSwitches};
#[cfg(not(feature = "serial"))]
use slotwise_firmware::RttCarrier;
use slotwise_firmware::panic::{restart, software_reset};
use slotwise_firmware::{
    Board, BoardEndpoint, BoardPullUp, CycleClock, IdentityRecord, PinState, endpoint, identity_record, rtt, serve,
    switch,
};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type PullUp = BoardPullUp<board::PullUpPin, { board::PULL_UP_CLOSES_AT.is_some() }>;
type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<Carrier, NoGuard>;
type ThisEndpoint<'a> = BoardEndpoint<'a, board::DataPin, CycleClock, PullUp, Switches<'a>, ThisHost>;
#[cfg(not(feature = "serial"))]
type Carrier = RttCarrier<CycleClock>;
#[cfg(feature = "serial")]
type Carrier = serial::SerialCarrier;

#[entry]
fn main() -> ! {
    rtt::start();
    // Nobody has taken them before the first line of the program.
    let (Some(mut core), Some(chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take()) else { restart() };
    let clock = CycleClock::start(&mut core.DCB, &mut core.DWT, board::CORE_HZ);
    let cause = reset_cause(&chip.POWER);
    try_crystal(&chip.CLOCK, clock);

    // Switches first: nothing may be shorted or unpowered when the line is touched.
    let pins = p0::Parts::new(chip.P0);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |to| pins.p0_04.into_push_pull_output(level(to)));
    let short = switch(board::SHORT_CLOSES_AT, Position::Open, |to| pins.p0_05.into_push_pull_output(level(to)));
    let Ok(pull_up) = PullUp::new(board::PULL_UP_CLOSES_AT, |to| pins.p0_03.into_push_pull_output(level(to))) else {
        restart()
    };
    let data: board::DataPin =
        pins.p0_02.into_open_drain_input_output(OpenDrainConfig::Standard0Disconnect1, Level::High);

    #[cfg(not(feature = "serial"))]
    let carrier = RttCarrier::new(clock);
    #[cfg(feature = "serial")]
    let carrier = serial::start(
        chip.UART0,
        pins.p0_06.into_push_pull_output(Level::High).degrade(),
        pins.p0_08.into_pullup_input().degrade(),
        clock,
    );
    let watch = Watch::new(data, clock);
    let interlock = Interlock::new();
    let switches = RigSwitches::new(supply, short, &interlock);
    let board = Board { chip: board::CHIP, core_hz: board::CORE_HZ, reset: cause };
    let host = Host::new(carrier, NoGuard);
    let mut endpoint = endpoint(board, &watch, &host, interlock.pull_up(pull_up), switches);
    slotwise_bridge_serve(&mut endpoint, &host, clock)
}

/// Everything after start-up. A function of its own, and with this very name, for the check that no panic can be reached from it.
#[expect(unsafe_code, reason = "the check looks for the name")]
#[unsafe(no_mangle)]
#[inline(never)]
fn slotwise_bridge_serve<'w>(endpoint: &mut ThisEndpoint<'w>, host: &'w ThisHost, clock: CycleClock) -> ! {
    serve(endpoint, host, &clock)
}

/// Reads the reset flags and removes them: they add up otherwise. None of them set means a loss of power (nRF52833 Product
/// Specification, POWER, RESETREAS; from memory). There is no watchdog here: on this chip it outlives the reset that a debug probe makes
/// before it writes the flash, and nothing of ours could show that the writing survives it.
fn reset_cause(power: &pac::POWER) -> ResetCause {
    let flags = power.resetreas.read();
    // Each flag is removed by writing a 1 to it.
    #[expect(unsafe_code, reason = "the register has no safe way to write back what was read")]
    // SAFETY: every bit of this register may be written; it changes nothing but the flags.
    power.resetreas.write(|w| unsafe { w.bits(flags.bits()) });
    let by_software = software_reset();
    if flags.dog().bit_is_set() {
        ResetCause::Watchdog
    } else if flags.lockup().bit_is_set() {
        ResetCause::Fault
    } else if flags.sreq().bit_is_set() {
        by_software
    } else if flags.resetpin().bit_is_set() {
        ResetCause::Pin
    } else if flags.bits() == 0 {
        ResetCause::Power
    } else {
        ResetCause::Unknown
    }
}

/// Runs from the crystal if it starts in time, else on from the oscillator inside. The HAL would wait for it without an end.
fn try_crystal(clocks: &pac::CLOCK, timer: CycleClock) {
    clocks.tasks_hfclkstart.write(|w| w.tasks_hfclkstart().trigger());
    let since = timer.ticks();
    while clocks.events_hfclkstarted.read().events_hfclkstarted().is_not_generated() {
        if timer.ticks().wrapping_sub(since) >= board::CRYSTAL_START_CYCLES {
            defmt::warn!("the crystal does not start: times are right to within some percent only");
            return;
        }
    }
}

/// The HAL has a type of its own for the level of a pin.
fn level(state: PinState) -> Level {
    match state {
        PinState::Low => Level::Low,
        PinState::High => Level::High,
    }
}
