//! What is connected to the LM3S6965, and how fast it runs.
//!
//! ```text
//!  3.3 V ──[4.7k]──┬──── line ── DQ of the sensors
//!   PD3, U1TX ─────┤     open drain, never driven high
//!   PD2, U1RX ─────┘
//!   PA0, U0RX; PA1, U0TX: frames, 115200 baud, 8N1
//! ```

use slotwise_firmware::panic::restart;

use crate::clock::TickClock;
use crate::registers::Register;
use crate::uart::Uart;

/// Name of the chip, as the host sees it.
pub(crate) const CHIP: &str = "LM3S6965";

/// Core clock, in hertz: 200 MHz of the PLL by 4.
pub(crate) const CORE_HZ: u32 = 50_000_000;
/// Speed of the serial port that carries frames, in baud.
pub(crate) const FRAMES_BAUD: u32 = 115_200;

/// Carries frames.
pub(crate) const FRAMES: Uart = Uart::at(0x4000_C000);
/// Is the bus master.
pub(crate) const LINE: Uart = Uart::at(0x4000_D000);

/// Raw interrupt status; bit 6: the PLL is stable.
const RIS: Register = Register::at(0x400F_E050);
const PLL_STABLE: u32 = 1 << 6;
/// Run-mode clock configuration.
const RCC: Register = Register::at(0x400F_E060);
const RCC_SYSDIV: u32 = 0xF << 23;
const RCC_USE_SYSDIV: u32 = 1 << 22;
const RCC_POWER_DOWN: u32 = 1 << 13;
const RCC_OUTPUT_OFF: u32 = 1 << 12;
const RCC_BYPASS: u32 = 1 << 11;
const RCC_CRYSTAL: u32 = 0xF << 6;
const RCC_CRYSTAL_8_MHZ: u32 = 0xE << 6;
const RCC_SOURCE: u32 = 0x3 << 4;
const RCC_CRYSTAL_OFF: u32 = 1;
/// Clocks of the peripherals: UARTs in bits 0 and 1.
const RCGC1: Register = Register::at(0x400F_E104);
/// Clocks of the ports: A in bit 0, D in bit 3.
const RCGC2: Register = Register::at(0x400F_E108);

const PORT_A: usize = 0x4000_4000;
const PORT_D: usize = 0x4000_7000;
/// Alternate function, open drain, and digital input and output, of a port.
const ALTERNATE: usize = 0x420;
const OPEN_DRAIN: usize = 0x50C;
const DIGITAL: usize = 0x51C;

/// How long crystal and PLL may take, in core cycles of the oscillator inside, some 12 MHz: a quarter of a second.
const STABLE_WITHIN_CYCLES: u32 = 3_000_000;

/// Runs the core at [`CORE_HZ`] from the crystal of 8 MHz. Without the crystal nothing has its rate: starts over.
pub(crate) fn start_core_clock(timer: &TickClock) {
    // From the oscillator inside while crystal and PLL come up.
    RCC.change(RCC_USE_SYSDIV, RCC_BYPASS);
    RCC.change(RCC_CRYSTAL_OFF, 0);
    RCC.change(RCC_CRYSTAL | RCC_SOURCE | RCC_POWER_DOWN | RCC_OUTPUT_OFF, RCC_CRYSTAL_8_MHZ);
    // Divided by 4.
    RCC.change(RCC_SYSDIV, 3 << 23 | RCC_USE_SYSDIV);
    let since = timer.now();
    while !RIS.has(PLL_STABLE) {
        if timer.now().wrapping_sub(since) > STABLE_WITHIN_CYCLES {
            restart();
        }
    }
    RCC.change(RCC_BYPASS, 0);
}

/// Gives the UARTs their clocks and their pins.
pub(crate) fn start_pins() {
    RCGC1.change(0, 0b11);
    RCGC2.change(0, 0b1001);
    // A peripheral may be used a few cycles after its clock has started; reading the register back takes as long.
    let _ = RCGC2.read();
    for (port, pins) in [(PORT_A, 0b0011), (PORT_D, 0b1100)] {
        Register::at(port + ALTERNATE).change(0, pins);
        Register::at(port + DIGITAL).change(0, pins);
    }
    Register::at(PORT_D + OPEN_DRAIN).change(0, 0b1000);
}
