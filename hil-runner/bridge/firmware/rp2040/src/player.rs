//! Sensors or a listener on an RP2040: starts the clocks, opens the short, and plays. The second core sleeps.

#![no_std]
#![no_main]
#![allow(dead_code, reason = "the board is described once for both programs")]

mod board;
mod clock;
mod start;

use cortex_m_rt::entry;
use rp2040_hal::clocks::init_clocks_and_plls;
use rp2040_hal::gpio::{InOutPin, Pins};
use rp2040_hal::sio::Sio;
use rp2040_hal::{Watchdog, pac};
use slotwise_bridge::message::Position;
use slotwise_bridge::play::stage_clock;
use slotwise_bridge::{Host, Interlock, NoGuard, RigSwitches};
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardPlayEndpoint, IdentityRecord, RttCarrier, identity_record, play_endpoint, play_for_ever, rtt, switch,
};
use slotwise_player::{Player, Timing};

use clock::LongSysTick;
use start::{pin_state, reset_cause};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<RttCarrier<LongSysTick>, NoGuard>;
type ThisEndpoint<'a> = BoardPlayEndpoint<'a, board::DataPin, LongSysTick, Switches<'a>>;

#[entry]
fn main() -> ! {
    rtt::start();
    // Nothing has taken them before the first line of the program.
    let (Some(mut core), Some(mut chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take()) else { restart() };
    let cause = reset_cause(&chip.WATCHDOG, &chip.VREG_AND_CHIP_RESET);

    let sio = Sio::new(chip.SIO);
    let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, sio.gpio_bank0, &mut chip.RESETS);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |to| {
        pins.gpio4.into_push_pull_output_in_state(pin_state(to))
    });
    let short =
        switch(board::SHORT_CLOSES_AT, Position::Open, |to| pins.gpio5.into_push_pull_output_in_state(pin_state(to)));
    // From the state after reset, in which it drives nothing: the output is kept off before it is an output.
    let data: board::DataPin = InOutPin::new(pins.gpio2.into_pull_type());

    let mut watchdog = Watchdog::new(chip.WATCHDOG);
    let clocks = init_clocks_and_plls(
        board::CRYSTAL_HZ,
        chip.XOSC,
        chip.CLOCKS,
        chip.PLL_SYS,
        chip.PLL_USB,
        &mut chip.RESETS,
        &mut watchdog,
    );
    let Ok(_) = clocks else { restart() };
    let clock = LongSysTick::start(&mut core.SYST, board::CORE_HZ);

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
