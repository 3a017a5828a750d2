//! The bridge on an RP2040: starts the clocks, puts the switches where they do no harm, and serves. The second core sleeps.

#![no_std]
#![no_main]

mod board;
mod clock;
#[cfg(feature = "serial")]
mod serial;
mod start;

use cortex_m_rt::entry;
use rp2040_hal::clocks::init_clocks_and_plls;
use rp2040_hal::gpio::{InOutPin, Pins};
use rp2040_hal::sio::Sio;
use rp2040_hal::{Watchdog, pac};
use slotwise_bridge::message::Position;
use slotwise_bridge::watch::Watch;
use slotwise_bridge::{Host, Interlock, NoGuard, RigSwitches};
#[cfg(not(feature = "serial"))]
use slotwise_firmware::RttCarrier;
use slotwise_firmware::panic::restart;
use slotwise_firmware::{
    Board, BoardEndpoint, BoardPullUp, IdentityRecord, endpoint, identity_record, rtt, serve, switch,
};

use clock::LongSysTick;
use start::{pin_state, reset_cause};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type PullUp = BoardPullUp<board::PullUpPin, { board::PULL_UP_CLOSES_AT.is_some() }>;
type Switches<'a> = RigSwitches<'a, board::SupplyPin, board::ShortPin>;
type ThisHost = Host<Carrier, NoGuard>;
type ThisEndpoint<'a> = BoardEndpoint<'a, board::DataPin, LongSysTick, PullUp, Switches<'a>, ThisHost>;
#[cfg(not(feature = "serial"))]
type Carrier = RttCarrier<LongSysTick>;
#[cfg(feature = "serial")]
type Carrier = serial::SerialCarrier;

#[entry]
fn main() -> ! {
    rtt::start();
    // No code takes them before the first line of the program.
    let (Some(mut core), Some(mut chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take()) else { restart() };

    let cause = reset_cause(&chip.WATCHDOG, &chip.VREG_AND_CHIP_RESET);

    // Switches first: nothing may be shorted or unpowered when the line is touched.
    let sio = Sio::new(chip.SIO);
    let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, sio.gpio_bank0, &mut chip.RESETS);
    let supply = switch(board::SUPPLY_CLOSES_AT, Position::Closed, |to| {
        pins.gpio4.into_push_pull_output_in_state(pin_state(to))
    });
    let short =
        switch(board::SHORT_CLOSES_AT, Position::Open, |to| pins.gpio5.into_push_pull_output_in_state(pin_state(to)));
    let Ok(pull_up) =
        PullUp::new(board::PULL_UP_CLOSES_AT, |to| pins.gpio3.into_push_pull_output_in_state(pin_state(to)))
    else {
        restart()
    };
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
    #[cfg_attr(not(feature = "serial"), expect(unused_variables, reason = "only the serial port asks for their rates"))]
    let Ok(clocks) = clocks else { restart() };
    let clock = LongSysTick::start(&mut core.SYST, board::CORE_HZ);

    #[cfg(not(feature = "serial"))]
    let carrier = RttCarrier::new(clock);
    #[cfg(feature = "serial")]
    let Some(carrier) = serial::start(chip.UART0, pins.gpio0, pins.gpio1, &mut chip.RESETS, &clocks, clock) else {
        restart()
    };
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
fn slotwise_bridge_serve<'w>(endpoint: &mut ThisEndpoint<'w>, host: &'w ThisHost, clock: LongSysTick) -> ! {
    serve(endpoint, host, &clock)
}
