//! Sensors or a listener on an STM32F103: starts the clock, opens the short, and plays.

#![no_std]
#![no_main]
#![allow(dead_code, reason = "the board is described once for both programs")]

mod board;
mod core_clock;
mod reset;

use cortex_m_rt::entry;
use reset::Watchdog;
use slotwise_bridge::message::Position;
use slotwise_bridge::play::stage_clock;
use slotwise_bridge::{Host, Interlock, RigSwitches};
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardPlayEndpoint, CycleClock, IdentityRecord, RttCarrier, identity_record, play_endpoint, play_for_ever,
    rtt, switch,
};
use slotwise_player::{Player, Timing};
use stm32f1xx_hal::gpio::PinState;
use stm32f1xx_hal::pac;
use stm32f1xx_hal::prelude::*;

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<RttCarrier<CycleClock>, Watchdog>;
type ThisEndpoint<'a> = BoardPlayEndpoint<'a, board::DataPin, CycleClock, Switches<'a>>;

#[entry]
fn main() -> ! {
    rtt::start();
    // Nothing has taken them before the first line of the program.
    let (Some(mut core), Some(chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take()) else { restart() };
    let cause = reset::cause(&chip.RCC);
    let timer = CycleClock::start(&mut core.DCB, &mut core.DWT, board::INTERNAL_CORE_HZ);
    let (mut rcc, source) = core_clock::start(chip.RCC, chip.FLASH, timer);
    let clock = CycleClock::start(&mut core.DCB, &mut core.DWT, source.core_hz());

    let port = chip.GPIOB.split(&mut rcc);
    let (mut low, mut high) = (port.crl, port.crh);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |level| {
        port.pb8.into_push_pull_output_with_state(&mut high, pin_state(level))
    });
    let short = switch(board::SHORT_CLOSES_AT, Position::Open, |level| {
        port.pb9.into_push_pull_output_with_state(&mut high, pin_state(level))
    });
    let data: board::DataPin = port.pb6.into_open_drain_output_with_state(&mut low, PinState::High);

    let interlock = Interlock::new();
    let switches = RigSwitches::new(supply, short, &interlock);
    let board = Board { chip: board::CHIP, core_hz: source.core_hz(), reset: cause };
    let host = Host::new(RttCarrier::new(clock), Watchdog::start(chip.IWDG, &chip.DBGMCU));
    let mut player = Player::new(stage_clock(source.core_hz()), Timing::typical());
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

/// The HAL has a type of its own for the level of a pin.
fn pin_state(level: slotwise_firmware::PinState) -> PinState {
    match level {
        slotwise_firmware::PinState::Low => PinState::Low,
        slotwise_firmware::PinState::High => PinState::High,
    }
}
