//! Whether a panic can be reached from a function of a linked image.
//!
//! Every instruction of every function counts, whether a way leads to it or not. What cannot be followed is an error, never a guess:
//! a call through a pointer, a branch to where no function is. Only where the image holds no panic at all is nothing followed.

use super::branch::{Branch, step};
use crate::size::{Function, Image, ImageError};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use thiserror::Error;

/// The function of an image that only the panic handler calls: every panic ends there.
const PANIC_MARK: &str = "panicked";
/// The start of the names of the library's functions that panic.
const PANICKING: &str = "core::panicking::";

/// Why the calls of an image cannot be followed to a panic.
#[derive(Debug, Error)]
pub enum ReachError {
    /// The image cannot be read.
    #[error(transparent)]
    Image(#[from] ImageError),
    /// There is no function of that name.
    #[error("no function {0} in the image")]
    NoEntry(String),
    /// A call through a pointer.
    #[error("indirect call in {function} at {address:#x}, which may lead to a panic")]
    Indirect {
        /// Where.
        function: String,
        /// Where in it.
        address: u32,
    },
    /// A branch to where no function is.
    #[error("{function} goes on at {target:#x}, where no function is")]
    NoFunction {
        /// From where.
        function: String,
        /// To where.
        target: u32,
    },
}

/// A chain of calls from `entry` to a function that panics, or nothing if there is none.
///
/// # Errors
///
/// If the image cannot be read or a call in it cannot be followed.
pub fn panic_chain(elf: &[u8], entry: &str) -> Result<Option<Vec<String>>, ReachError> {
    let image = Image::read(elf)?;
    let first = image.function(entry).ok_or_else(|| ReachError::NoEntry(entry.into()))?;
    if !image.functions.values().any(panics) {
        return Ok(None);
    }
    let mut came_from: BTreeMap<u32, u32> = BTreeMap::new();
    let mut seen = BTreeSet::from([first.address]);
    let mut open = VecDeque::from([first]);
    while let Some(function) = open.pop_front() {
        if panics(function) {
            return Ok(Some(chain(&image, &came_from, function)));
        }
        for called in calls(&image, function)? {
            if seen.insert(called.address) {
                came_from.insert(called.address, function.address);
                open.push_back(called);
            }
        }
    }
    Ok(None)
}

fn panics(function: &Function) -> bool {
    function.name == PANIC_MARK || function.name.starts_with(PANICKING)
}

fn chain(image: &Image, came_from: &BTreeMap<u32, u32>, last: &Function) -> Vec<String> {
    let mut chain = vec![last.name.clone()];
    let mut address = last.address;
    while let Some(before) = came_from.get(&address) {
        chain.extend(image.functions.get(before).map(|function| function.name.clone()));
        address = *before;
    }
    chain.reverse();
    chain
}

/// The functions that a function goes on to, whether it comes back or not.
fn calls<'a>(image: &'a Image, function: &Function) -> Result<Vec<&'a Function>, ReachError> {
    let mut calls = Vec::new();
    let end = end_of(image, function);
    let mut address = function.address;
    // What a function takes off the stack by itself is its own return address.
    let mut popped: Option<u16> = None;
    while address < end {
        let Some(first) = image.code(address) else {
            address += 2;
            continue;
        };
        let instruction = step(address, first, image.code(address + 2));
        match instruction.branch {
            Branch::None | Branch::Table | Branch::End => {}
            Branch::Register(register) if popped == Some(1 << register) => {}
            Branch::Register(_) => return Err(ReachError::Indirect { function: function.name.clone(), address }),
            Branch::To(target) if (function.address..end).contains(&target) => {}
            Branch::To(target) => {
                let called = containing(image, target);
                calls.push(called.ok_or_else(|| ReachError::NoFunction { function: function.name.clone(), target })?);
            }
        }
        popped = (first & 0xFF00 == 0xBC00).then_some(first & 0xFF);
        address += instruction.length;
    }
    Ok(calls)
}

/// The function that an address lies in.
fn containing(image: &Image, address: u32) -> Option<&Function> {
    let (_, function) = image.functions.range(..=address).next_back()?;
    (address < end_of(image, function)).then_some(function)
}

/// Where a function ends. One written in assembly may not say how long it is; it ends where the next begins.
fn end_of(image: &Image, function: &Function) -> u32 {
    if function.end > function.address {
        return function.end;
    }
    let next = image.functions.range(function.address + 1..).next();
    next.map_or(function.address, |(address, _)| *address)
}
