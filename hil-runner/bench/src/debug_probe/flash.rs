//! Flashes the firmware if the chip holds another, and starts it.

use std::io::Cursor;
use std::time::Duration;

use probe_rs::flashing::{
    DownloadOptions, ElfLoader, ElfOptions, FlashError, FlashLoader, FlashProgress, ProgressEvent, ProgressOperation,
};
use probe_rs::rtt::{Rtt, ScanRegion};
use probe_rs::{MemoryInterface, Session};

use super::attach::Attached;
use super::error::{ChipError, ImageError, chain};
use super::identity::{IDENTITY_BYTES, Identity};
use super::image::Image;
use super::news::{FlashListener, FlashNews, Flashed};

/// Where identities are searched, from the start of the flash, and what their addresses are multiples of.
const IDENTITY_WITHIN: usize = 4096;
const IDENTITY_ALIGNED: usize = 4;
/// How long a chip may take to come to a halt.
const HALT_WITHIN: Duration = Duration::from_millis(500);

/// Puts the image on the chip if it is not there, and starts it from a reset.
///
/// # Errors
/// [`ChipError`] if that fails. The flash may then hold half an image; the next call writes it anew.
pub fn bring_up(
    attached: &mut Attached,
    image: &Image,
    listener: &mut dyn FlashListener,
) -> Result<Flashed, ChipError> {
    image.check_chip(&attached.chip)?;
    let session = &mut attached.session;
    halt(session)?;
    let mut loader = session.target().flash_loader();
    loader
        .load_image(session, &mut Cursor::new(&*image.elf), ElfLoader(ElfOptions::default()), None)
        .map_err(|error| ImageError::NotOne { name: image.name.clone(), why: chain(&error) })?;
    let flashed = if holds(session, &loader)? {
        listener.notice(&FlashNews::UpToDate(&image.identity));
        Flashed::UpToDate
    } else {
        let old = identity_on(session, image)?;
        listener.notice(&FlashNews::Replacing { old, new: &image.identity });
        write(session, &loader, listener)?;
        listener.notice(&FlashNews::Written);
        Flashed::Written
    };
    start(session, image)?;
    Ok(flashed)
}

fn halt(session: &mut Session) -> Result<(), ChipError> {
    let lost = |error: probe_rs::Error| ChipError::Lost(chain(&error));
    session.core(0).map_err(lost)?.reset_and_halt(HALT_WITHIN).map_err(lost)?;
    Ok(())
}

/// Whether the flash holds the image, byte by byte. Read directly: nothing needs to run on the chip for that.
fn holds(session: &mut Session, loader: &FlashLoader) -> Result<bool, ChipError> {
    let lost = |error: probe_rs::Error| ChipError::Lost(chain(&error));
    let mut core = session.core(0).map_err(lost)?;
    for (address, wanted) in loader.data() {
        let mut there = vec![0; wanted.len()];
        core.read(address, &mut there).map_err(lost)?;
        if there != wanted {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Who is on the chip: firmware of ours, of whatever version, has its identity in the first 4 KiB of the flash.
fn identity_on(session: &mut Session, image: &Image) -> Result<Option<Identity>, ChipError> {
    let lost = |error: probe_rs::Error| ChipError::Lost(chain(&error));
    let mut bytes = vec![0; IDENTITY_WITHIN];
    let start = image.identity_address & !(IDENTITY_WITHIN as u64 - 1);
    session.core(0).map_err(lost)?.read(start, &mut bytes).map_err(lost)?;
    Ok(bytes.windows(IDENTITY_BYTES).step_by(IDENTITY_ALIGNED).find_map(Identity::of))
}

fn write(session: &mut Session, loader: &FlashLoader, listener: &mut dyn FlashListener) -> Result<(), ChipError> {
    let mut bars = Bars::default();
    let mut options = DownloadOptions::new();
    options.verify = true;
    options.progress = FlashProgress::new(|event| {
        if let Some((work, done, total)) = bars.take(&event) {
            listener.notice(&FlashNews::Progress { work, done, total });
        }
    });
    loader.commit(session, options).map_err(|error| match error {
        FlashError::Verify => ChipError::Flash("what was read back is not what was written".into()),
        other => ChipError::Flash(chain(&other)),
    })
}

/// Progress of each kind of work.
#[derive(Default)]
struct Bars {
    /// Kind, done, to do.
    known: Vec<(&'static str, u64, u64)>,
}

impl Bars {
    fn take(&mut self, event: &ProgressEvent) -> Option<(&'static str, u64, u64)> {
        match event {
            ProgressEvent::AddProgressBar { operation, total } => {
                self.known.push((word(operation), 0, total.unwrap_or(0)));
                None
            }
            ProgressEvent::Progress { operation, size, .. } => {
                let (work, done, total) = self.known.iter_mut().find(|(work, ..)| *work == word(operation))?;
                *done += size;
                Some((work, *done, (*total).max(*done)))
            }
            _ => None,
        }
    }
}

fn word(operation: &ProgressOperation) -> &'static str {
    match operation {
        ProgressOperation::Fill => "reading",
        ProgressOperation::Erase => "erasing",
        ProgressOperation::Program => "writing",
        ProgressOperation::Verify => "reading back",
    }
}

/// Starts the firmware from a reset. What an earlier run left in memory must not pass for its channels.
fn start(session: &mut Session, image: &Image) -> Result<(), ChipError> {
    let lost = |error: probe_rs::Error| ChipError::Lost(chain(&error));
    let mut core = session.core(0).map_err(lost)?;
    core.reset_and_halt(HALT_WITHIN).map_err(lost)?;
    Rtt::clear_control_block(&mut core, &ScanRegion::Exact(image.rtt_address))
        .map_err(|error| ChipError::Lost(chain(&error)))?;
    core.run().map_err(lost)
}
