//! The deepest stack below a function, from the code of a linked image: every way through each function, and every call.
//!
//! What cannot be followed is an error, never a guess: a call through a pointer, recursion, a stack pointer that is moved by
//! an unknown amount. Interrupts are not counted; each adds its own frame to whatever it interrupts.

use super::image::{Function, Image};
use super::thumb::{Effect, LINK, decode};
use std::collections::BTreeMap;
use thiserror::Error;

/// How often the stack may turn out deeper at one instruction before it counts as growing in a loop.
const DEEPER: u8 = 16;

/// No operation, in its two spellings: what fills the space before data and functions.
const PADDING: [u16; 2] = [0x46C0, 0xBF00];

/// Why the stack depth of an image cannot be determined.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum StackError {
    /// There is no function of that name.
    #[error("no function {0} in the image")]
    NoEntry(String),
    /// A function calls itself, by a detour or not.
    #[error("recursion: {}", .0.join(" -> "))]
    Recursion(Vec<String>),
    /// A call through a pointer.
    #[error("indirect call in {function} at {address:#x}")]
    Indirect {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
    },
    /// A call to where no function begins.
    #[error("{function} calls {target:#x}, where no function begins")]
    NoFunction {
        /// Who calls.
        function: String,
        /// Where to.
        target: u32,
    },
    /// The stack pointer moves by an amount that the code does not show.
    #[error("stack pointer moved by an unknown amount in {function} at {address:#x}")]
    UnknownAmount {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
    },
    /// The stack pointer does not come back to where it was.
    #[error("{function} returns at {address:#x} with {depth} bytes left on the stack")]
    Unbalanced {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
        /// How many bytes.
        depth: i32,
    },
    /// A loop pushes more than it pops.
    #[error("stack grows in a loop of {function} at {address:#x}")]
    Loop {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
    },
    /// No instruction of the chip.
    #[error("unknown instruction in {function} at {address:#x}")]
    Unknown {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
    },
}

/// The deepest stack below a function.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Deepest {
    /// How deep, in bytes.
    pub bytes: u32,
    /// The chain of calls that reaches it, each function with its own share.
    pub chain: Vec<(String, u32)>,
}

impl Deepest {
    /// How deep without the share of the first function: what its calls need.
    #[must_use]
    pub fn below_first(&self) -> u32 {
        self.bytes - self.chain.first().map_or(0, |(_, own)| *own)
    }
}

/// The deepest stack below the function called `entry`.
///
/// # Errors
///
/// If the entry is missing or a call or stack adjustment on the way cannot be followed.
pub fn deepest(image: &Image, entry: &str) -> Result<Deepest, StackError> {
    let function = image.function(entry).ok_or_else(|| StackError::NoEntry(entry.into()))?;
    let mut walk = CallWalk { image, known: BTreeMap::new(), open: Vec::new() };
    walk.below(function)
}

struct CallWalk<'a> {
    image: &'a Image,
    known: BTreeMap<u32, Deepest>,
    open: Vec<&'a Function>,
}

impl<'a> CallWalk<'a> {
    fn below(&mut self, function: &'a Function) -> Result<Deepest, StackError> {
        if let Some(known) = self.known.get(&function.address) {
            return Ok(known.clone());
        }
        if let Some(first) = self.open.iter().position(|open| open.address == function.address) {
            let circle = self.open[first..].iter().copied().chain([function]);
            return Err(StackError::Recursion(circle.map(|function| function.name.clone()).collect()));
        }
        self.open.push(function);
        let frame = Frame::of(self.image, function)?;
        let mut deepest = Deepest { bytes: frame.depth, chain: vec![(function.name.clone(), frame.depth)] };
        for (target, depth) in frame.calls {
            let called = self.image.functions.get(&target);
            let called = called.ok_or_else(|| StackError::NoFunction { function: function.name.clone(), target })?;
            let below = self.below(called)?;
            if depth + below.bytes > deepest.bytes {
                deepest.bytes = depth + below.bytes;
                deepest.chain = vec![(function.name.clone(), depth)];
                deepest.chain.extend(below.chain);
            }
        }
        self.open.pop();
        self.known.insert(function.address, deepest.clone());
        Ok(deepest)
    }
}

/// What one function does by itself.
#[derive(Default)]
struct Frame {
    /// Its deepest stack.
    depth: u32,
    /// The functions it calls, each with the stack at the deepest of the calls.
    calls: BTreeMap<u32, u32>,
}

/// A walk over every way through one function.
struct Ways<'a> {
    image: &'a Image,
    function: &'a Function,
    frame: Frame,
    /// Instructions to look at, with the stack before them and the instruction before them.
    open: Vec<(u32, i32, Effect)>,
    /// Instructions looked at, with the deepest stack before them and how often it was found deeper.
    seen: BTreeMap<u32, (i32, u8)>,
    /// The deepest stack at a jump table.
    table: Option<i32>,
}

impl Frame {
    fn of(image: &Image, function: &Function) -> Result<Self, StackError> {
        let open = vec![(function.address, 0, Effect::None)];
        let mut ways = Ways { image, function, frame: Self::default(), open, seen: BTreeMap::new(), table: None };
        loop {
            while let Some((address, depth, before)) = ways.open.pop() {
                ways.step(address, depth, before)?;
            }
            // A jump table may lead to whatever nothing else leads to.
            let Some((depth, address)) = ways.table.zip(ways.unseen()) else { break };
            ways.open.push((address, depth, Effect::JumpTable));
        }
        Ok(ways.frame)
    }
}

impl Ways<'_> {
    fn step(&mut self, address: u32, depth: i32, before: Effect) -> Result<(), StackError> {
        let seen = self.seen.entry(address).or_insert((i32::MIN, 0));
        if depth <= seen.0 {
            return Ok(());
        }
        *seen = (depth, seen.1 + 1);
        if seen.1 > DEEPER {
            return Err(StackError::Loop { function: self.name(), address });
        }
        let Some(first) = self.image.code(address) else {
            return Err(StackError::Unknown { function: self.name(), address });
        };
        let instruction = decode(address, first, self.image.code(address + 2));
        let next = address + instruction.length;
        let effect = instruction.effect;
        match effect {
            // Padding says nothing about what stands before it, such as a call that never returns.
            Effect::None if PADDING.contains(&first) => self.go_on(next, depth, before),
            Effect::None | Effect::LoadLiteral { .. } => self.go_on(next, depth, effect),
            Effect::Stack(bytes) => self.go_on(next, depth + bytes, effect),
            Effect::StackByRegister(register) => {
                let bytes = self.loaded(register, before);
                let bytes = bytes.ok_or_else(|| StackError::UnknownAmount { function: self.name(), address })?;
                self.go_on(next, depth - bytes, effect);
            }
            Effect::StackFrom(_) => return Err(StackError::UnknownAmount { function: self.name(), address }),
            Effect::Return(bytes) => self.balanced(address, depth + bytes)?,
            Effect::JumpRegister(LINK) => self.balanced(address, depth)?,
            // The return address taken off the stack by itself.
            Effect::JumpRegister(_) if matches!(before, Effect::Stack(..=-4)) => self.balanced(address, depth)?,
            Effect::JumpRegister(_) | Effect::CallRegister(_) => {
                return Err(StackError::Indirect { function: self.name(), address });
            }
            Effect::JumpTable => self.table = Some(self.table.unwrap_or(depth).max(depth)),
            Effect::Branch(target) => {
                self.go_on(next, depth, effect);
                self.leave(target, depth, effect);
            }
            Effect::Jump(target) => self.leave(target, depth, effect),
            // A call into the middle of the same function is a far jump.
            Effect::Call(target) if self.is_inside(target) && target != self.function.address => {
                self.go_on(target, depth, effect);
            }
            Effect::Call(target) => {
                self.call(target, depth);
                self.go_on(next, depth, effect);
            }
            Effect::Stop => {}
            Effect::Unknown => return Err(StackError::Unknown { function: self.name(), address }),
        }
        Ok(())
    }

    fn name(&self) -> String {
        self.function.name.clone()
    }

    fn is_inside(&self, address: u32) -> bool {
        (self.function.address..self.function.end).contains(&address)
    }

    /// Goes on inside the function. Behind its end there is nothing: it ends with a call that never returns.
    fn go_on(&mut self, address: u32, depth: i32, before: Effect) {
        self.frame.depth = self.frame.depth.max(depth.max(0).unsigned_abs());
        if self.is_inside(address) && (self.image.code(address).is_some() || !matches!(before, Effect::Call(_))) {
            self.open.push((address, depth, before));
        }
    }

    /// Goes on at the target of a jump, which may be another function.
    fn leave(&mut self, target: u32, depth: i32, before: Effect) {
        if self.is_inside(target) { self.go_on(target, depth, before) } else { self.call(target, depth) }
    }

    fn call(&mut self, target: u32, depth: i32) {
        let depth = depth.max(0).unsigned_abs();
        let known = self.frame.calls.entry(target).or_insert(depth);
        *known = depth.max(*known);
    }

    fn balanced(&self, address: u32, depth: i32) -> Result<(), StackError> {
        if depth == 0 { Ok(()) } else { Err(StackError::Unbalanced { function: self.name(), address, depth }) }
    }

    /// The value of a register that the instruction before has loaded.
    fn loaded(&self, register: u8, before: Effect) -> Option<i32> {
        match before {
            Effect::LoadLiteral { register: loaded, address } if loaded == register => {
                self.image.word(address).map(u32::cast_signed)
            }
            _ => None,
        }
    }

    /// The first instruction that was not looked at.
    fn unseen(&self) -> Option<u32> {
        let mut address = self.function.address;
        while address < self.function.end {
            match self.image.code(address) {
                Some(first) if self.seen.contains_key(&address) => address += decode(address, first, None).length,
                None => address += 2,
                Some(first) if PADDING.contains(&first) => address += 2,
                Some(_) => return Some(address),
            }
        }
        None
    }
}
