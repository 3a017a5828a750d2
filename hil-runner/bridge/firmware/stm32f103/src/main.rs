//! The bridge on an STM32F103: starts the clock, puts the switches where they do no harm, and serves.

#![no_std]
#![no_main]

mod board;
mod core_clock;
mod reset;
#[cfg(feature = "serial")]
mod serial;

use cortex_m_rt::entry;
use reset::Watchdog;
use slotwise_bridge::message::Position;
use slotwise_bridge::watch::Watch;
use slotwise_bridge::{Host, Interlock, RigSwitches};
#[cfg(not(feature = "serial"))]
use slotwise_firmware::RttCarrier;
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardEndpoint, BoardPullUp, CycleClock, IdentityRecord, endpoint, identity_record, rtt, serve, switch,
};
use stm32f1xx_hal::gpio::PinState;
use stm32f1xx_hal::pac;
use stm32f1xx_hal::prelude::*;

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type PullUp = BoardPullUp<board::PullUpPin, { board::PULL_UP_CLOSES_AT.is_some() }>;
type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<Carrier, Watchdog>;
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
    let cause = reset::cause(&chip.RCC);
    let timer = CycleClock::start(&mut core.DCB, &mut core.DWT, board::INTERNAL_CORE_HZ);
    let (mut rcc, source) = core_clock::start(chip.RCC, chip.FLASH, timer);
    let clock = CycleClock::start(&mut core.DCB, &mut core.DWT, source.core_hz());

    // Switches first: nothing may be shorted or unpowered when the line is touched.
    let port = chip.GPIOB.split(&mut rcc);
    let (mut low, mut high) = (port.crl, port.crh);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |level| {
        port.pb8.into_push_pull_output_with_state(&mut high, pin_state(level))
    });
    let short = switch(board::SHORT_CLOSES_AT, Position::Open, |level| {
        port.pb9.into_push_pull_output_with_state(&mut high, pin_state(level))
    });
    let Ok(pull_up) = PullUp::new(board::PULL_UP_CLOSES_AT, |level| {
        port.pb7.into_push_pull_output_with_state(&mut low, pin_state(level))
    }) else {
        restart()
    };
    let data: board::DataPin = port.pb6.into_open_drain_output_with_state(&mut low, PinState::High);

    #[cfg(not(feature = "serial"))]
    let carrier = RttCarrier::new(clock);
    #[cfg(feature = "serial")]
    let carrier = serial::start(chip.USART1, chip.GPIOA, &mut rcc, clock);
    let watch = Watch::new(data, clock);
    let interlock = Interlock::new();
    let switches = RigSwitches::new(supply, short, &interlock);
    let board = Board { chip: board::CHIP, core_hz: source.core_hz(), reset: cause };
    let host = Host::new(carrier, Watchdog::start(chip.IWDG, &chip.DBGMCU));
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

/// The HAL has a type of its own for the level of a pin.
fn pin_state(level: slotwise_firmware::PinState) -> PinState {
    match level {
        slotwise_firmware::PinState::Low => PinState::Low,
        slotwise_firmware::PinState::High => PinState::High,
    }
}
