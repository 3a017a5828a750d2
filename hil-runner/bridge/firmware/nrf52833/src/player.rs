//! Sensors or a listener on an nRF52833: starts the crystal, opens the short, and plays.

#![no_std]
#![no_main]
#![allow(dead_code, reason = "the board is described once for both programs")]

mod board;
mod start;

use cortex_m_rt::entry;
use nrf52833_hal::gpio::{Level, OpenDrainConfig, p0};
use nrf52833_hal::pac;
use slotwise_bridge::message::Position;
use slotwise_bridge::play::stage_clock;
use slotwise_bridge::{Host, Interlock, NoGuard, RigSwitches};
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardPlayEndpoint, CycleClock, IdentityRecord, RttCarrier, identity_record, play_endpoint, play_for_ever,
    rtt, switch,
};
use slotwise_player::{Player, Timing};
use start::{level, reset_cause, try_crystal};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<RttCarrier<CycleClock>, NoGuard>;
type ThisEndpoint<'a> = BoardPlayEndpoint<'a, board::DataPin, CycleClock, Switches<'a>>;

#[entry]
fn main() -> ! {
    rtt::start();
    // Nothing has taken them before the first line of the program.
    let (Some(mut core), Some(chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take()) else { restart() };
    let clock = CycleClock::start(&mut core.DCB, &mut core.DWT, board::CORE_HZ);
    let cause = reset_cause(&chip.POWER);
    try_crystal(&chip.CLOCK, clock);

    let pins = p0::Parts::new(chip.P0);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |to| pins.p0_04.into_push_pull_output(level(to)));
    let short = switch(board::SHORT_CLOSES_AT, Position::Open, |to| pins.p0_05.into_push_pull_output(level(to)));
    let data: board::DataPin =
        pins.p0_02.into_open_drain_input_output(OpenDrainConfig::Standard0Disconnect1, Level::High);

    let interlock = Interlock::new();
    let switches = RigSwitches::new(supply, short, &interlock);
    let board = Board { chip: board::CHIP, core_hz: board::CORE_HZ, reset: cause };
    let host = Host::new(RttCarrier::new(clock), NoGuard);
    let mut player = Player::new(stage_clock(board::CORE_HZ), Timing::typical());
    let mut endpoint = play_endpoint(board, &mut player, data, clock, switches);
    slotwise_bridge_serve(&mut endpoint, &host)
}

/// Everything after start-up. A function of its own, and with this very name, for the check that no panic can be reached from it.
#[expect(unsafe_code, reason = "the check looks for the name")]
#[unsafe(no_mangle)]
#[inline(never)]
fn slotwise_bridge_serve(endpoint: &mut ThisEndpoint<'_>, host: &ThisHost) -> ! {
    play_for_ever(endpoint, host)
}
