//! Which images there are, and what each may cost.

/// The folder of the firmware's workspace.
pub const WORKSPACE: &str = "hil-runner/bridge/firmware";

/// Bytes of flash that an image may take: three quarters of the smallest chip's 64 KiB (STM32F103C8). The rest is left for what
/// a user's own board adds.
pub const FLASH_BUDGET: u64 = 48 * 1024;
/// Bytes of memory that statics may take: three buffers of 1 KiB and a quarter as much for all else. The smallest chip has 20 KiB, and
/// its stack gets what is left.
pub const STATICS_BUDGET: u64 = 3 * 1024 + 768;

/// A chip that the firmware is written for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Chip {
    /// Its name, as the host sees it.
    pub name: &'static str,
    /// The program that is the master on it; its package ends in the same name.
    pub program: &'static str,
    /// The target it is built for.
    pub target: &'static str,
}

/// Every chip.
pub const CHIPS: [Chip; 3] = [
    Chip { name: "STM32F103", program: "stm32f103", target: "thumbv7m-none-eabi" },
    Chip { name: "nRF52833", program: "nrf52833", target: "thumbv7em-none-eabihf" },
    Chip { name: "RP2040", program: "rp2040", target: "thumbv6m-none-eabi" },
];

/// Bytes of memory that the statics of a player may take: those of a master, and 4 KiB for the edges. The player itself is on the stack.
pub const PLAYER_STATICS_BUDGET: u64 = STATICS_BUDGET + 4 * 1024;

/// What a program does on the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It is the master.
    Master,
    /// It plays sensors and listens.
    Player,
}

impl Role {
    /// Its name in the list of the packed images.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Master => "master",
            Self::Player => "player",
        }
    }

    /// Bytes of memory that the statics of its images may take.
    #[must_use]
    pub const fn statics_budget(self) -> u64 {
        match self {
            Self::Master => STATICS_BUDGET,
            Self::Player => PLAYER_STATICS_BUDGET,
        }
    }
}

/// A program that is built for a chip, and packed with the carrier [`Carrier::Rtt`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Program {
    /// The chip.
    pub chip: Chip,
    /// Its name, which is also the file's.
    pub name: &'static str,
    /// What it does.
    pub role: Role,
}

impl Program {
    const fn master(chip: Chip) -> Self {
        Self { chip, name: chip.program, role: Role::Master }
    }

    const fn player(chip: Chip, name: &'static str) -> Self {
        Self { chip, name, role: Role::Player }
    }

    /// The file of its packed image.
    #[must_use]
    pub fn file(&self) -> String {
        format!("{}.elf", self.name)
    }
}

/// Every program, the masters first.
pub const PROGRAMS: [Program; 6] = [
    Program::master(CHIPS[0]),
    Program::master(CHIPS[1]),
    Program::master(CHIPS[2]),
    Program::player(CHIPS[0], "stm32f103-player"),
    Program::player(CHIPS[1], "nrf52833-player"),
    Program::player(CHIPS[2], "rp2040-player"),
];

/// How the frames of an image travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carrier {
    /// Through the chip's memory. These images are packed.
    Rtt,
    /// Through a serial port.
    Serial,
}

impl Carrier {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Rtt, Self::Serial];

    /// Its name in reports.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rtt => "rtt",
            Self::Serial => "serial",
        }
    }
}

/// An image that is made to be refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refused {
    /// The program.
    pub program: &'static str,
    /// What the refusal must say.
    pub said: &'static str,
}

/// Images with a fault, each refused for its own reason. All are for the chip that stands first.
pub const REFUSED: [Refused; 2] =
    [Refused { program: "panics", said: "can panic" }, Refused { program: "hides-panic", said: "indirect call in " }];
