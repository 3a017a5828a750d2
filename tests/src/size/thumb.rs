//! The instructions of an ARMv6-M chip, as far as they move the stack pointer or the program counter.
//!
//! Encodings are those of the ARMv6-M Architecture Reference Manual, chapter A5 (Thumb instruction set encoding). ARMv6-M
//! has 16-bit instructions, and of the 32-bit ones only branch with link, barriers, and moves from and to special registers.

/// One instruction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Instruction {
    /// Its length in bytes, 2 or 4.
    pub length: u32,
    /// What it does to the stack pointer or the program counter.
    pub effect: Effect,
}

/// What an instruction does to the stack pointer or the program counter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// Nothing.
    None,
    /// Moves the stack by so many bytes: deeper when positive.
    Stack(i32),
    /// Adds a register to the stack pointer.
    StackByRegister(u8),
    /// Sets the stack pointer from a register.
    StackFrom(u8),
    /// Loads a register from the address that follows, relative to the program counter.
    LoadLiteral {
        /// The register.
        register: u8,
        /// Where the literal lies.
        address: u32,
    },
    /// Takes registers off the stack and goes on at the address among them.
    Return(i32),
    /// Goes on elsewhere.
    Jump(u32),
    /// Goes on elsewhere, or behind.
    Branch(u32),
    /// Calls.
    Call(u32),
    /// Calls what a register points to.
    CallRegister(u8),
    /// Goes on at what a register points to: a return if that is the link register.
    JumpRegister(u8),
    /// Goes on at an address computed from a register: a jump table inside a function.
    JumpTable,
    /// Does not go on: an undefined instruction on purpose, as after a call that never returns.
    Stop,
    /// No instruction of this chip.
    Unknown,
}

/// The link register.
pub(super) const LINK: u8 = 14;
const STACK: u8 = 13;
const COUNTER: u8 = 15;

/// The instruction whose first half is `first` at `address`; `second` is the half behind it.
#[must_use]
pub fn decode(address: u32, first: u16, second: Option<u16>) -> Instruction {
    if matches!(first >> 11, 0b11101..=0b11111) {
        let effect = second.map_or(Effect::Unknown, |second| long(address, first, second));
        return Instruction { length: 4, effect };
    }
    Instruction { length: 2, effect: short(address, first) }
}

fn short(address: u32, code: u16) -> Effect {
    let immediate7 = i32::from(code & 0x7F) * 4;
    let low_registers = (code & 0xFF).count_ones().cast_signed() * 4;
    let one_more = i32::from(code >> 8 & 1) * 4;
    match code {
        // PUSH, POP (with the program counter: a return)
        _ if code & 0xFE00 == 0xB400 => Effect::Stack(low_registers + one_more),
        _ if code & 0xFF00 == 0xBC00 => Effect::Stack(-low_registers),
        _ if code & 0xFF00 == 0xBD00 => Effect::Return(-low_registers - one_more),
        // SUB and ADD (SP, immediate)
        _ if code & 0xFF80 == 0xB080 => Effect::Stack(immediate7),
        _ if code & 0xFF80 == 0xB000 => Effect::Stack(-immediate7),
        // LDR (literal): relative to the counter, which is 4 ahead and rounded down to a word
        _ if code & 0xF800 == 0x4800 => Effect::LoadLiteral {
            register: (code >> 8 & 7) as u8,
            address: ((address + 4) & !3) + u32::from(code & 0xFF) * 4,
        },
        // Special data instructions, and branch and exchange
        _ if code & 0xFC00 == 0x4400 => special(code),
        // Conditional branch; 14 is permanently undefined, 15 a supervisor call
        _ if code & 0xFF00 == 0xDE00 => Effect::Stop,
        _ if code & 0xFF00 == 0xDF00 => Effect::None,
        _ if code & 0xF000 == 0xD000 => Effect::Branch(relative(address, i32::from(code as u8 as i8) * 2)),
        // Unconditional branch: eleven bits with a sign
        _ if code & 0xF800 == 0xE000 => {
            let halves = (i32::from(code & 0x7FF) ^ 0x400) - 0x400;
            Effect::Jump(relative(address, halves * 2))
        }
        _ => Effect::None,
    }
}

fn special(code: u16) -> Effect {
    let destination = (code & 7 | code >> 4 & 8) as u8;
    let source = (code >> 3 & 15) as u8;
    match (code >> 8 & 3, destination, source) {
        (0b00, STACK, register) => Effect::StackByRegister(register),
        (0b00, COUNTER, _) => Effect::JumpTable,
        (0b10, STACK, register) => Effect::StackFrom(register),
        (0b10, COUNTER, LINK) => Effect::JumpRegister(LINK),
        (0b10, COUNTER, _) => Effect::JumpTable,
        (0b11, _, register) if code & 0x80 == 0 => Effect::JumpRegister(register),
        (0b11, _, register) => Effect::CallRegister(register),
        _ => Effect::None,
    }
}

fn long(address: u32, first: u16, second: u16) -> Effect {
    if first & 0xF800 == 0xF000 && second & 0xD000 == 0xD000 {
        return Effect::Call(relative(address, call_offset(first, second)));
    }
    match (first, second) {
        // UDF.W
        _ if first & 0xFFF0 == 0xF7F0 && second & 0xF000 == 0xA000 => Effect::Stop,
        // MSR, barriers, MRS
        _ if first & 0xFFF0 == 0xF380 || first == 0xF3BF || first == 0xF3EF => Effect::None,
        _ => Effect::Unknown,
    }
}

/// The offset of BL: a sign, ten bits and eleven bits of halves, and two bits between that are stored against the sign.
fn call_offset(first: u16, second: u16) -> i32 {
    let bit = |value: u16, index: u32| u32::from(value >> index & 1);
    let sign = bit(first, 10);
    let high = 1 ^ bit(second, 13) ^ sign;
    let low = 1 ^ bit(second, 11) ^ sign;
    let halves = sign << 23 | high << 22 | low << 21 | u32::from(first & 0x3FF) << 11 | u32::from(second & 0x7FF);
    ((halves << 8).cast_signed() >> 8) * 2
}

fn relative(address: u32, offset: i32) -> u32 {
    (address + 4).wrapping_add_signed(offset)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn effect(code: u16) -> Effect {
        let instruction = decode(0x100, code, None);
        assert_eq!(instruction.length, 2);
        instruction.effect
    }

    /// Words and meanings as an assembler prints them.
    #[test]
    fn short_instructions_are_read() {
        assert_eq!(effect(0xB5F8), Effect::Stack(24), "push {{r3-r7, lr}}");
        assert_eq!(effect(0xB401), Effect::Stack(4), "push {{r0}}");
        assert_eq!(effect(0xBD80), Effect::Return(-8), "pop {{r7, pc}}");
        assert_eq!(effect(0xBC30), Effect::Stack(-8), "pop {{r4, r5}}");
        assert_eq!(effect(0xB086), Effect::Stack(24), "sub sp, #24");
        assert_eq!(effect(0xB006), Effect::Stack(-24), "add sp, #24");
        assert_eq!(effect(0x44B5), Effect::StackByRegister(6), "add sp, r6");
        assert_eq!(effect(0x46BD), Effect::StackFrom(7), "mov sp, r7");
        assert_eq!(effect(0x4F01), Effect::LoadLiteral { register: 7, address: 0x108 }, "ldr r7, [pc, #4]");
        assert_eq!(effect(0x4770), Effect::JumpRegister(LINK), "bx lr");
        assert_eq!(effect(0x46F7), Effect::JumpRegister(LINK), "mov pc, lr");
        assert_eq!(effect(0x4718), Effect::JumpRegister(3), "bx r3");
        assert_eq!(effect(0x4798), Effect::CallRegister(3), "blx r3");
        assert_eq!(effect(0x4687), Effect::JumpTable, "mov pc, r0");
        assert_eq!(effect(0x449F), Effect::JumpTable, "add pc, r3");
        assert_eq!(effect(0xD0FE), Effect::Branch(0x100), "beq to itself");
        assert_eq!(effect(0xE7FE), Effect::Jump(0x100), "b to itself");
        assert_eq!(effect(0xE001), Effect::Jump(0x106), "b ahead");
        assert_eq!(effect(0xDEFE), Effect::Stop, "udf #254");
        assert_eq!(effect(0xDF00), Effect::None, "svc #0");
        assert_eq!(effect(0x4680), Effect::None, "mov r8, r0");
        assert_eq!(effect(0xA802), Effect::None, "add r0, sp, #8");
    }

    #[test]
    fn long_instructions_are_read() {
        let effect = |first, second| decode(0x100, first, Some(second));
        let call = |to| Instruction { length: 4, effect: Effect::Call(to) };
        assert_eq!(effect(0xF000, 0xF800), call(0x104), "bl to the next");
        assert_eq!(effect(0xF7FF, 0xFFFE), call(0x100), "bl to itself");
        assert_eq!(effect(0xF000, 0xF87E), call(0x200), "bl ahead");
        assert_eq!(effect(0xF001, 0xF800), call(0x1104), "bl far ahead");
        assert_eq!(effect(0xF3BF, 0x8F5F).effect, Effect::None, "dmb sy");
        assert_eq!(effect(0xF3EF, 0x8010).effect, Effect::None, "mrs r0, primask");
        assert_eq!(effect(0xE92D, 0x4FF0).effect, Effect::Unknown, "push.w, which this chip has not");
        assert_eq!(decode(0, 0xF000, None).effect, Effect::Unknown, "half a call");
    }
}
