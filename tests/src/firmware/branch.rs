//! Where an instruction of a Cortex-M core goes on, as far as it leaves the straight line.
//!
//! The short instructions are those that every such core has; [`crate::size`] reads them. The long ones are those of ARMv7-M, as its
//! Architecture Reference Manual has them in chapter A5.3 (32-bit Thumb instruction encoding) and under each instruction.

use crate::size::{Effect, decode};

/// One instruction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Its length in bytes, 2 or 4.
    pub length: u32,
    /// Where it goes on.
    pub branch: Branch,
}

/// Where an instruction goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Branch {
    /// Behind itself.
    None,
    /// At this address, or behind itself: a call or a branch.
    To(u32),
    /// At the address in a register, which may be that of any function.
    Register(u8),
    /// Somewhere in the same function, by a table.
    Table,
    /// At the caller, or nowhere.
    End,
}

const STACK: u16 = 13;
const COUNTER: u16 = 15;
const LINK: u8 = 14;

/// The instruction whose first half is `first` at `address`; `second` is the half behind it.
#[must_use]
pub fn step(address: u32, first: u16, second: Option<u16>) -> Step {
    if matches!(first >> 11, 0b11101..=0b11111) {
        return Step { length: 4, branch: second.map_or(Branch::None, |second| long(address, first, second)) };
    }
    Step { length: 2, branch: short(address, first) }
}

fn short(address: u32, code: u16) -> Branch {
    // CBZ, CBNZ: ARMv7-M only, forward by up to 126 bytes.
    if code & 0xF500 == 0xB100 {
        let offset = u32::from(code >> 3 & 0x1F) << 1 | u32::from(code >> 9 & 1) << 6;
        return Branch::To(address + 4 + offset);
    }
    match decode(address, code, None).effect {
        Effect::Jump(target) | Effect::Branch(target) | Effect::Call(target) => Branch::To(target),
        Effect::JumpRegister(LINK) | Effect::Return(_) | Effect::Stop => Branch::End,
        Effect::JumpRegister(register) | Effect::CallRegister(register) => Branch::Register(register),
        Effect::JumpTable => Branch::Table,
        _ => Branch::None,
    }
}

fn long(address: u32, first: u16, second: u16) -> Branch {
    let target = second >> 12;
    match (first, second) {
        // BL (T1), B.W (T4)
        _ if first & 0xF800 == 0xF000 && matches!(second & 0xD000, 0xD000 | 0x9000) => {
            Branch::To(relative(address, far(first, second)))
        }
        // B<condition>.W (T3). What would be condition 14 or 15 are system instructions.
        _ if first & 0xF800 == 0xF000 && second & 0xD000 == 0x8000 && first >> 7 & 7 != 7 => {
            Branch::To(relative(address, near(first, second)))
        }
        // UDF.W
        _ if first & 0xFFF0 == 0xF7F0 && second & 0xF000 == 0xA000 => Branch::End,
        // TBB, TBH
        _ if first & 0xFFF0 == 0xE8D0 && second & 0xFFE0 == 0xF000 => Branch::Table,
        // LDM, LDMDB with the program counter among the registers; POP is the one from the stack.
        _ if matches!(first & 0xFFD0, 0xE890 | 0xE910) && second & 0x8000 != 0 => from(first & 15),
        // LDR to the program counter, in all its forms.
        _ if first & 0xFF70 == 0xF850 && target == COUNTER => from(first & 15),
        _ => Branch::None,
    }
}

/// The program counter taken from where a register points: a return if that is the stack.
fn from(base: u16) -> Branch {
    if base == STACK { Branch::End } else { Branch::Register(base as u8) }
}

/// Sign, two bits stored against the sign, ten bits and eleven bits of halves.
fn far(first: u16, second: u16) -> i32 {
    let sign = bit(first, 10);
    let high = 1 ^ bit(second, 13) ^ sign;
    let low = 1 ^ bit(second, 11) ^ sign;
    let halves = sign << 23 | high << 22 | low << 21 | u32::from(first & 0x3FF) << 11 | u32::from(second & 0x7FF);
    ((halves << 8).cast_signed() >> 8) * 2
}

/// Sign, two bits, six bits and eleven bits of halves.
fn near(first: u16, second: u16) -> i32 {
    let halves = bit(first, 10) << 19
        | bit(second, 11) << 18
        | bit(second, 13) << 17
        | u32::from(first & 0x3F) << 11
        | u32::from(second & 0x7FF);
    ((halves << 12).cast_signed() >> 12) * 2
}

fn bit(value: u16, index: u32) -> u32 {
    u32::from(value >> index & 1)
}

fn relative(address: u32, offset: i32) -> u32 {
    (address + 4).wrapping_add_signed(offset)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Words and meanings as a disassembler prints them.
    #[test]
    fn long_branches_are_read() {
        let at = |address, first, second| step(address, first, Some(second));
        let to = |target| Step { length: 4, branch: Branch::To(target) };
        assert_eq!(at(0x100, 0xF000, 0xF800), to(0x104), "bl to the next");
        assert_eq!(at(0x100, 0xF7FF, 0xFFFE), to(0x100), "bl to itself");
        assert_eq!(at(0x100, 0xF7FF, 0xBFFE), to(0x100), "b.w to itself");
        assert_eq!(at(0x100, 0xF000, 0xB87E), to(0x200), "b.w ahead");
        assert_eq!(at(0x100, 0xF43F, 0xAFFE), to(0x100), "beq.w to itself");
        assert_eq!(at(0x100, 0xF000, 0x807E), to(0x200), "beq.w ahead");
        assert_eq!(at(0x100, 0xF3BF, 0x8F5F).branch, Branch::None, "dmb sy");
        assert_eq!(at(0x100, 0xF3EF, 0x8010).branch, Branch::None, "mrs r0, primask");
        assert_eq!(at(0x100, 0xF7F0, 0xA000).branch, Branch::End, "udf.w");
        assert_eq!(at(0x100, 0xE92D, 0x4FF0).branch, Branch::None, "push.w");
        assert_eq!(at(0x100, 0xF240, 0x1023).branch, Branch::None, "movw r0, #0x123");
    }

    #[test]
    fn ways_to_where_a_register_says_are_read() {
        let at = |first, second| step(0x100, first, Some(second)).branch;
        assert_eq!(at(0xE8D0, 0xF001), Branch::Table, "tbb [r0, r1]");
        assert_eq!(at(0xE8DF, 0xF010), Branch::Table, "tbh [pc, r0, lsl #1]");
        assert_eq!(at(0xE8BD, 0x8FF0), Branch::End, "pop.w {{r4-r11, pc}}");
        assert_eq!(at(0xE8BD, 0x4FF0), Branch::None, "pop.w {{r4-r11, lr}}");
        assert_eq!(at(0xE890, 0x8001), Branch::Register(0), "ldm.w r0, {{r0, pc}}");
        assert_eq!(at(0xF85D, 0xFB04), Branch::End, "ldr pc, [sp], #4");
        assert_eq!(at(0xF8D0, 0xF000), Branch::Register(0), "ldr.w pc, [r0]");
        assert_eq!(at(0xF8D0, 0x1000), Branch::None, "ldr.w r1, [r0]");
    }

    #[test]
    fn short_branches_are_read() {
        let at = |code| step(0x100, code, None).branch;
        assert_eq!(at(0xB108), Branch::To(0x106), "cbz r0");
        assert_eq!(at(0xBBF8), Branch::To(0x182), "cbnz r0, far");
        assert_eq!(at(0x4770), Branch::End, "bx lr");
        assert_eq!(at(0xBD80), Branch::End, "pop {{r7, pc}}");
        assert_eq!(at(0x4798), Branch::Register(3), "blx r3");
        assert_eq!(at(0x4718), Branch::Register(3), "bx r3");
        assert_eq!(at(0xD0FE), Branch::To(0x100), "beq to itself");
        assert_eq!(at(0xE7FE), Branch::To(0x100), "b to itself");
        assert_eq!(at(0x4687), Branch::Table, "mov pc, r0");
        assert_eq!(at(0xB5F8), Branch::None, "push {{r3-r7, lr}}");
    }
}
