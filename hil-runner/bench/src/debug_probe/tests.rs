//! The way to a chip, on an emulated one: what is flashed and what is not, and what each obstacle is called.

use std::convert::Infallible;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use slotwise_bridge::message::{Answer, Position, Request, ResetCause, Switch};
use slotwise_emulated_mcu::{
    Active, CHIP_NAME, ChipConfig, EmulatedMcu, PinAction, PinEvent, PinName, Port, SwitchPin, Trip, Wiring,
};
use slotwise_virtual_line::{LineConfig, VirtualLine};

use super::*;
use crate::link::{Link, LinkError};

/// A blank chip whose debug probe has this serial number.
fn chip(serial: &str) -> EmulatedMcu<()> {
    chip_with(serial, Vec::new())
}

/// A chip with this in its flash, wired as the firmware's board file says.
fn chip_with(serial: &str, flash: Vec<u8>) -> EmulatedMcu<()> {
    start(config(serial, flash))
}

fn config(serial: &str, flash: Vec<u8>) -> ChipConfig {
    let switch = |number, active| Some(SwitchPin { pin: PinName::new(Port::B, number), active });
    let mut config = ChipConfig::new(
        1,
        Wiring {
            data: PinName::new(Port::B, 6),
            strong_pull_up: None,
            supply_switch: switch(8, Active::Low),
            short_switch: switch(9, Active::High),
        },
    );
    config.serial = serial.into();
    config.flash = flash;
    config
}

fn start(config: ChipConfig) -> EmulatedMcu<()> {
    let build = || Ok::<_, Infallible>((VirtualLine::new(LineConfig::default(), 1).expect("the usual line"), ()));
    EmulatedMcu::start(config, build).unwrap()
}

fn attached(mcu: &EmulatedMcu<()>) -> Result<Attached, ChipError> {
    attach(mcu.debug_probe(), CHIP_NAME, None)
}

/// Keeps all news, without the bytes.
#[derive(Default)]
struct Notes(Vec<String>);

impl FlashListener for Notes {
    fn notice(&mut self, news: &FlashNews<'_>) {
        let note = match news {
            FlashNews::UpToDate(_) => "up to date".to_owned(),
            FlashNews::Replacing { old, .. } => format!("replacing {}", old.as_ref().map_or("none", |_| "ours")),
            FlashNews::Progress { work, .. } => (*work).to_owned(),
            FlashNews::Written => "written".to_owned(),
        };
        if self.0.last() != Some(&note) {
            self.0.push(note);
        }
    }
}

fn flash(mcu: &EmulatedMcu<()>, image: &Image) -> Result<(Flashed, Vec<String>), ChipError> {
    let mut notes = Notes::default();
    let flashed = bring_up(&mut attached(mcu)?, image, &mut notes)?;
    Ok((flashed, notes.0))
}

#[test]
fn a_blank_chip_is_flashed_once_and_then_left_alone() {
    let mcu = chip("flash-once");
    let image = packed_image(CHIP_NAME).unwrap();
    let (flashed, notes) = flash(&mcu, &image).unwrap();
    assert_eq!(flashed, Flashed::Written);
    assert_eq!(notes, ["replacing none", "erasing", "writing", "reading back", "written"]);
    assert_eq!(flash(&mcu, &image).unwrap(), (Flashed::UpToDate, vec!["up to date".to_owned()]));
}

#[test]
fn power_that_is_cut_in_mid_flash_is_an_error_and_the_next_run_recovers() {
    let image = packed_image(CHIP_NAME).unwrap();
    for after_flash_operations in [1, 30, 700, 9_000] {
        let mcu = chip(&format!("cut-{after_flash_operations}"));
        mcu.trip(Trip::PowerCut { after_flash_operations }).unwrap();
        let cut = flash(&mcu, &image);
        assert!(matches!(cut, Err(ChipError::Flash(_) | ChipError::Lost(_))), "{after_flash_operations}: {cut:?}");
        let (flashed, notes) = flash(&mcu, &image).unwrap();
        assert_eq!((flashed, notes.last().map(String::as_str)), (Flashed::Written, Some("written")));
    }
}

#[test]
fn another_chip_is_not_flashed() {
    let mcu = chip("wrong");
    mcu.trip(Trip::WrongChip).unwrap();
    let Err(error) = attached(&mcu) else { panic!("the wrong chip") };
    assert!(matches!(error, ChipError::WrongChip { .. } | ChipError::NoChip { .. }), "{error}");
}

#[test]
fn a_locked_chip_is_not_unlocked() {
    let mcu = chip("locked");
    mcu.trip(Trip::LockedChip).unwrap();
    let Err(error) = attached(&mcu) else { panic!("a locked chip") };
    assert!(matches!(error, ChipError::Locked { .. }), "{error}");
    assert!(error.to_string().contains("unlocking erases all of it"), "{error}");
}

#[test]
fn a_debug_probe_that_is_pulled_while_flashing_is_lost_by_name() {
    let mcu = chip("pulled");
    mcu.trip(Trip::UnplugDebugProbe { after_accesses: 150 }).unwrap();
    let error = flash(&mcu, &packed_image(CHIP_NAME).unwrap()).unwrap_err();
    assert!(matches!(error, ChipError::Lost(_) | ChipError::Flash(_) | ChipError::NoChip { .. }), "{error}");
    mcu.trip(Trip::PlugIn).unwrap();
    assert_eq!(flash(&mcu, &packed_image(CHIP_NAME).unwrap()).unwrap().0, Flashed::Written);
}

/// The packed image with an endless loop (`b .`) where it starts.
fn mute_image() -> Image {
    use object::{Object, ObjectSection};
    let mut elf = packed_image(CHIP_NAME).unwrap().elf.to_vec();
    let at = {
        let file = object::File::parse(&*elf).unwrap();
        let entry = file.entry() & !1;
        let of_entry = |section: &object::Section<'_, '_>| {
            let (offset, bytes) = section.file_range()?;
            (section.address()..section.address() + bytes).contains(&entry).then(|| offset + entry - section.address())
        };
        file.sections().find_map(|section| of_entry(&section)).unwrap() as usize
    };
    elf[at..at + 2].copy_from_slice(&0xE7FE_u16.to_le_bytes());
    Image::parse("mute.elf".into(), elf.into()).unwrap()
}

#[test]
fn firmware_that_never_opens_its_channels_is_named() {
    let mcu = chip("mute");
    let image = mute_image();
    let mut attached = attached(&mcu).unwrap();
    bring_up(&mut attached, &image, &mut SilentListener).unwrap();
    let Err(error) = open_rtt(attached, &image, WallTime::start()) else { panic!("no firmware opens channels") };
    assert_eq!(error.to_string(), "the firmware does not come up: no channels within 2 s; the chip runs");
}

#[test]
fn firmware_that_falls_silent_is_named_with_what_the_chip_does() {
    let mcu = chip("silent");
    let image = packed_image(CHIP_NAME).unwrap();
    let mut attached = attached(&mcu).unwrap();
    bring_up(&mut attached, &image, &mut SilentListener).unwrap();
    let carrier = open_rtt(attached, &image, WallTime::start()).unwrap();
    mcu.trip(Trip::SilentFirmware { after_accesses: 0 }).unwrap();
    let Err(error) = Link::open(Box::new(carrier), 1) else { panic!("no bridge answers") };
    assert!(error.to_string().starts_with("the bridge is silent: "), "{error}");
    let log = "; the chip runs; the firmware's log: info: slotwise bridge ";
    assert!(error.to_string().contains(log), "{error}");
}

#[test]
fn the_welcome_says_what_reset_the_chip() {
    let mcu = chip("welcome");
    let image = packed_image(CHIP_NAME).unwrap();
    let welcomed = || {
        let mut attached = attached(&mcu).unwrap();
        bring_up(&mut attached, &image, &mut SilentListener).unwrap();
        let carrier = open_rtt(attached, &image, WallTime::start()).unwrap();
        Link::open(Box::new(carrier), 1).unwrap().peer().reset
    };
    assert_eq!(welcomed(), ResetCause::Power, "no reset since");
    assert_eq!(welcomed(), ResetCause::Software, "the debug probe has started it again");
}

/// The real firmware, its short closed, and then nothing from the host.
#[test]
fn a_bridge_whose_host_is_gone_opens_its_switches_and_says_so_to_the_host_that_comes_back() {
    let thrown = Arc::new(Mutex::new(Vec::new()));
    let mut config = config("gone", Vec::new());
    let sink = Arc::clone(&thrown);
    config.on_pin_event = Some(Box::new(move |PinEvent { at_ns, what }| {
        if matches!(what, PinAction::ShortOn | PinAction::ShortOff | PinAction::SupplyOn | PinAction::SupplyOff) {
            sink.lock().unwrap().push((at_ns, what));
        }
    }));
    let mcu = start(config);
    let image = packed_image(CHIP_NAME).unwrap();
    let mut attached = attached(&mcu).unwrap();
    bring_up(&mut attached, &image, &mut SilentListener).unwrap();
    let carrier = open_rtt(attached, &image, WallTime::start()).unwrap();
    let mut link = Link::open(Box::new(carrier), 1).unwrap();
    let close = Request::Throw { switch: Switch::Short, to: Position::Closed };
    assert_eq!(link.ask(&close, Duration::ZERO).unwrap().answer, Answer::Throw(Ok(())));
    thrown.lock().unwrap().clear();
    let gone_ns = mcu.now_ns().unwrap();
    mcu.run_for_ns(9_000_000_000).unwrap();
    assert_eq!(*thrown.lock().unwrap(), [], "not yet");
    mcu.run_for_ns(1_200_000_000).unwrap();
    let thrown = thrown.lock().unwrap().clone();
    let [(first_ns, PinAction::ShortOff), (_, PinAction::SupplyOff)] = thrown[..] else { panic!("{thrown:?}") };
    let after_ms = (first_ns - gone_ns) / 1_000_000;
    assert!((9_900..10_200).contains(&after_ms), "{after_ms} ms");
    assert_eq!(link.ask(&Request::Look, Duration::ZERO).unwrap_err(), LinkError::HostGone);
}

#[test]
fn a_debug_probe_is_found_by_its_selector_and_no_other_is_taken_for_it() {
    let mcu = chip("found-by-name");
    assert!(open_debug_probe(Some(&mcu.selector())).is_ok());
    assert!(list().iter().any(|listed| listed.selector == mcu.selector()));
    let Err(error) = open_debug_probe(Some("0000:51f0:absent")) else { panic!("no such debug probe") };
    assert!(error.to_string().starts_with("no debug probe 0000:51f0:absent is connected; there is "), "{error}");
}

#[test]
fn an_unknown_chip_is_refused_with_the_nearest_known_one() {
    let mcu = chip("unknown");
    let Err(error) = attach(mcu.debug_probe(), "STM32F103C9", None) else { panic!("no such chip") };
    assert!(error.to_string().starts_with("no chip \"STM32F103C9\" is known; the nearest is STM32F103C"), "{error}");
}

#[test]
fn an_image_for_another_chip_is_not_flashed() {
    let mcu = chip("other-image");
    let image = packed_image("nRF52833_xxAA").unwrap();
    let error = bring_up(&mut attached(&mcu).unwrap(), &image, &mut SilentListener).unwrap_err();
    assert_eq!(error.to_string(), "the packed image for NRF52833 is for nRF52833, and the rig is a STM32F103C8");
}

#[test]
fn what_is_no_image_is_refused_by_what_is_missing() {
    let error = |bytes: &[u8]| Image::parse("own.elf".into(), bytes.to_vec().into()).unwrap_err().to_string();
    assert!(error(b"").starts_with("own.elf is no firmware image of a bridge: it is no ELF file"));
    assert!(error(&[0x7F; 4_000]).contains("it is no ELF file"));
    let whole = packed_image(CHIP_NAME).unwrap().elf;
    for length in [1, 16, 52, 300, whole.len() / 2, whole.len() - 1] {
        // Whatever the beginning of a good file is taken for, it is not flashed.
        assert!(Image::parse("cut.elf".into(), whole[..length].to_vec().into()).is_err(), "{length} bytes");
    }
    let renamed: Vec<u8> = whole.iter().copied().collect();
    let at = renamed.windows(15).position(|window| window == b"SLOTWISE-BRIDGE").unwrap();
    let mut other = renamed;
    other[at] = b'X';
    assert!(error(&other).ends_with("its identity cannot be read"));
}

#[test]
fn a_tool_without_an_image_for_a_chip_says_which_it_has() {
    let error = packed_image("LPC1768").unwrap_err().to_string();
    assert_eq!(
        error,
        "no firmware for LPC1768 comes with this tool (there is one for STM32F103, NRF52833, RP2040); name one with --image"
    );
}

#[test]
fn each_chip_has_an_image_of_either_role_and_they_say_which_it_is() {
    for chip in ["STM32F103C8", "nRF52833_xxAA", "RP2040"] {
        let [master, player] = [packed_image(chip), packed_player(chip)].map(|image| image.unwrap().identity);
        assert_eq!((master.role, player.role), (Role::Master, Role::Player));
        assert_eq!(player.chip, master.chip);
        assert_eq!(player.to_string(), format!("{master}, plays sensors"));
    }
}

#[test]
fn older_firmware_of_ours_is_known_wherever_its_vector_table_ends() {
    let mut contents = vec![0xFF; 2_048]; // no vectors: it does not run
    contents[772..788].copy_from_slice(b"SLOTWISE-BRIDGE\0");
    contents[788..790].copy_from_slice(&[1, 0]);
    contents[790..799].copy_from_slice(b"STM32F103");
    contents[799..806].fill(0);
    contents[806..836].fill(0); // version, and zeros where a later record has the role
    contents[806..811].copy_from_slice(b"0.0.1");
    let mcu = chip_with("older", contents);
    let (_, notes) = flash(&mcu, &packed_image(CHIP_NAME).unwrap()).unwrap();
    assert_eq!(notes[0], "replacing ours");
}
