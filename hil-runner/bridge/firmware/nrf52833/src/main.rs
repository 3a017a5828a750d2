//! The bridge on an nRF52833: starts the crystal, puts the switches where they do no harm, and serves.

#![no_std]
#![no_main]

mod board;
#[cfg(feature = "serial")]
mod serial;
mod start;

use cortex_m_rt::entry;
use nrf52833_hal::gpio::{Level, OpenDrainConfig, p0};
use nrf52833_hal::pac;
use slotwise_bridge::message::Position;
use slotwise_bridge::watch::Watch;
use slotwise_bridge::{Host, Interlock, NoGuard, RigSwitches};
#[cfg(not(feature = "serial"))]
use slotwise_firmware::RttCarrier;
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardEndpoint, BoardPullUp, CycleClock, IdentityRecord, endpoint, identity_record, rtt, serve, switch,
};
use start::{level, reset_cause, try_crystal};

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
    // No code takes them before the first line of the program.
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
