//! Images put together by hand, whose figures are known, and the analyser on them.

use super::*;
use object::write::{Object, StandardSection, Symbol, SymbolSection};
use object::{Architecture, BinaryFormat, Endianness, SymbolFlags, SymbolKind, SymbolScope};

/// A function: its name and its half words. A half word above FFFFh begins a stretch of data.
type Part<'a> = (&'a str, &'a [u32]);

const DATA: u32 = 0x1_0000;
const RETURN: u32 = 0x4770; // bx lr
const PUSH_R7_LR: u32 = 0xB580;
const POP_R7_PC: u32 = 0xBD80;

/// An ELF file with the functions one behind the other, beginning at address 0, and some data.
fn elf_with(parts: &[Part<'_>], constants: usize, data: usize, zeros: u64) -> Vec<u8> {
    let mut object = Object::new(BinaryFormat::Elf, Architecture::Arm, Endianness::Little);
    let text = object.section_id(StandardSection::Text);
    let symbol = |name: &str, value: u64, size: u64, kind| Symbol {
        name: name.into(),
        value,
        size,
        kind,
        scope: SymbolScope::Compilation,
        weak: false,
        section: SymbolSection::Section(text),
        flags: SymbolFlags::None,
    };
    let mut address = 0;
    for (name, halves) in parts {
        let start = address;
        object.add_symbol(symbol("$t.0", address, 0, SymbolKind::Label));
        for half in *halves {
            if *half >= DATA {
                object.add_symbol(symbol("$d.0", address, 0, SymbolKind::Label));
            }
            object.append_section_data(text, &(*half as u16).to_le_bytes(), 1);
            address += 2;
        }
        object.add_symbol(symbol(name, start | 1, address - start, SymbolKind::Text));
    }
    let section = object.section_id(StandardSection::ReadOnlyData);
    object.append_section_data(section, &vec![1; constants], 1);
    let section = object.section_id(StandardSection::Data);
    object.append_section_data(section, &vec![1; data], 1);
    let section = object.section_id(StandardSection::UninitializedData);
    object.append_section_bss(section, zeros, 1);
    linked(&object.write().unwrap())
}

/// The sections of an unlinked file all lie at address 0; a linker puts them one behind the other.
fn linked(unlinked: &[u8]) -> Vec<u8> {
    let mut builder = object::build::elf::Builder::read(unlinked).unwrap();
    for (section, address) in builder.sections.iter_mut().zip((0_u64..).step_by(0x1000)) {
        section.sh_addr = if &section.name[..] == b".text" { 0 } else { address + 0x1_0000 };
    }
    let mut linked = Vec::new();
    builder.write(&mut linked).unwrap();
    linked
}

fn stack_of(parts: &[Part<'_>]) -> Result<Deepest, StackError> {
    deepest(&Image::read(&elf_with(parts, 0, 0, 0)).unwrap(), "main")
}

/// `bl` to a place so many bytes behind the call itself.
fn call(offset: i32) -> [u32; 2] {
    let halves = (offset - 4) / 2;
    [0xF000 | (halves >> 11 & 0x7FF) as u32, 0xF800 | (halves & 0x7FF) as u32]
}

#[test]
fn a_frame_is_what_is_pushed_and_taken() {
    // push {r7, lr}; sub sp, #24; add sp, #24; pop {r7, pc}
    let deepest = stack_of(&[("main", &[PUSH_R7_LR, 0xB086, 0xB006, POP_R7_PC])]).unwrap();
    assert_eq!(deepest, Deepest { bytes: 32, chain: vec![("main".into(), 32)] });
    assert_eq!(stack_of(&[("main", &[RETURN])]).unwrap().bytes, 0);
}

#[test]
fn a_large_frame_is_read_from_its_literal() {
    // ldr r3, [pc, #8]; add sp, r3; ldr r3, [pc, #8]; add sp, r3; bx lr; nop; -1024; 1024
    let code = [0x4B02, 0x449D, 0x4B02, 0x449D, RETURN, 0x46C0, DATA | 0xFC00, DATA | 0xFFFF, DATA | 0x0400, DATA];
    assert_eq!(stack_of(&[("main", &code)]).unwrap().bytes, 1024);
    let unknown = stack_of(&[("main", &[0x449D, RETURN])]);
    assert_eq!(unknown, Err(StackError::UnknownAmount { function: "main".into(), address: 0 }));
    let set = stack_of(&[("main", &[0x46BD, RETURN])]);
    assert_eq!(set, Err(StackError::UnknownAmount { function: "main".into(), address: 0 }));
}

#[test]
fn the_deepest_of_the_ways_through_a_function_counts() {
    // beq over the frame; sub sp, #16; add sp, #16; bx lr
    let deepest = stack_of(&[("main", &[0xD001, 0xB084, 0xB004, RETURN])]).unwrap();
    assert_eq!(deepest.bytes, 16);
}

#[test]
fn calls_add_up_along_the_deepest_chain() {
    let [to_small, to_small2] = call(10 - 2);
    let [to_large, to_large2] = call(12 - 6);
    let deepest = stack_of(&[
        ("main", &[PUSH_R7_LR, to_small, to_small2, to_large, to_large2]),
        ("small", &[RETURN]),
        ("large", &[0xB082, 0xB002, RETURN]),
    ]);
    let deepest = deepest.unwrap();
    assert_eq!(deepest, Deepest { bytes: 16, chain: vec![("main".into(), 8), ("large".into(), 8)] });
    assert_eq!(deepest.below_first(), 8);
}

#[test]
fn a_jump_to_another_function_counts_as_a_call() {
    let deepest = stack_of(&[("main", &[0xE7FF]), ("other", &[0xB082, 0xB002, RETURN])]).unwrap();
    assert_eq!(deepest, Deepest { bytes: 8, chain: vec![("main".into(), 0), ("other".into(), 8)] });
}

#[test]
fn recursion_is_refused_with_its_circle() {
    let [itself, itself2] = call(-2);
    let direct = stack_of(&[("main", &[PUSH_R7_LR, itself, itself2, POP_R7_PC])]);
    assert_eq!(direct, Err(StackError::Recursion(vec!["main".into(), "main".into()])));
    let [there, there2] = call(6);
    let [back, back2] = call(-10);
    let detour = stack_of(&[
        ("main", &[PUSH_R7_LR, there, there2, POP_R7_PC]),
        ("other", &[PUSH_R7_LR, back, back2, POP_R7_PC]),
    ]);
    assert_eq!(detour, Err(StackError::Recursion(vec!["main".into(), "other".into(), "main".into()])));
}

#[test]
fn a_call_through_a_pointer_is_refused() {
    let call = stack_of(&[("main", &[PUSH_R7_LR, 0x4798, POP_R7_PC])]);
    assert_eq!(call, Err(StackError::Indirect { function: "main".into(), address: 2 }));
    let jump = stack_of(&[("main", &[0x4718])]);
    assert_eq!(jump, Err(StackError::Indirect { function: "main".into(), address: 0 }));
    // pop {r3}; bx r3 is a return
    let popped = stack_of(&[("main", &[0xB408, 0xBC08, 0x4718])]);
    assert_eq!(popped.unwrap().bytes, 4);
}

#[test]
fn code_behind_a_jump_table_is_followed() {
    // mov pc, r0; a case with a frame; a case with a call through a pointer
    let deepest = stack_of(&[("main", &[0x4687, 0xB084, 0xB004, RETURN])]).unwrap();
    assert_eq!(deepest.bytes, 16);
    let indirect = stack_of(&[("main", &[0x4687, RETURN, 0x4798, RETURN])]);
    assert_eq!(indirect, Err(StackError::Indirect { function: "main".into(), address: 4 }));
}

#[test]
fn behind_a_call_that_never_returns_there_may_be_data() {
    // push {r7, lr}; bl; nop; data
    let [never, never2] = call(8);
    let deepest = stack_of(&[("main", &[PUSH_R7_LR, never, never2, 0x46C0, DATA, DATA]), ("never", &[0xE7FE])]);
    assert_eq!(deepest.unwrap().bytes, 8);
    // Without the call the code runs into its data.
    let runs_on = stack_of(&[("main", &[PUSH_R7_LR, 0x46C0, DATA])]);
    assert_eq!(runs_on, Err(StackError::Unknown { function: "main".into(), address: 4 }));
}

#[test]
fn a_stack_that_does_not_come_back_is_refused() {
    let left = stack_of(&[("main", &[0xB081, RETURN])]);
    assert_eq!(left, Err(StackError::Unbalanced { function: "main".into(), address: 2, depth: 4 }));
    // sub sp, #4; b to it
    let growing = stack_of(&[("main", &[0xB081, 0xE7FD])]);
    assert_eq!(growing, Err(StackError::Loop { function: "main".into(), address: 0 }));
}

#[test]
fn a_call_to_nowhere_and_a_missing_entry_are_refused() {
    let [nowhere, nowhere2] = call(0x1000);
    let call = stack_of(&[("main", &[nowhere, nowhere2, RETURN])]);
    assert_eq!(call, Err(StackError::NoFunction { function: "main".into(), target: 0x1000 }));
    assert_eq!(stack_of(&[("other", &[RETURN])]), Err(StackError::NoEntry("main".into())));
    let unknown = stack_of(&[("main", &[0xE92D, 0x4FF0, RETURN])]);
    assert_eq!(unknown, Err(StackError::Unknown { function: "main".into(), address: 0 }));
}

#[test]
fn flash_and_statics_are_counted_separately() {
    let empty = elf_with(&[("main", &[RETURN])], 0, 0, 0);
    let image = elf_with(&[("main", &[0x46C0, 0x46C0, RETURN])], 100, 12, 30);
    let figures = measure(&image, &empty, "main").unwrap();
    assert_eq!((figures.flash, figures.statics), (4 + 100 + 12, 12 + 30));
    assert_eq!(figures.panics, Vec::<String>::new());
    assert!(matches!(measure(&empty, &image, "main"), Err(MeasureError::Smaller { image: 2, empty: 118 })));
}

#[test]
fn a_panic_in_the_image_is_found() {
    let empty = elf_with(&[("main", &[RETURN])], 0, 0, 0);
    let panicking = "_ZN4core9panicking5panic17h0123456789abcdefE";
    let image = elf_with(&[("main", &[RETURN]), ("panicked", &[RETURN]), (panicking, &[RETURN])], 0, 0, 0);
    assert_eq!(measure(&image, &empty, "main").unwrap().panics, ["panicked", "core::panicking::panic"]);
}

#[test]
fn what_is_no_image_is_refused() {
    assert!(matches!(Image::read(b"no image"), Err(ImageError::Elf(_))));
    assert!(matches!(Image::read(&elf_with(&[], 0, 0, 0)), Err(ImageError::NoFunctions)));
}
