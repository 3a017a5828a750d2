//! From the bytes of the firmware's log to its lines.

use defmt_decoder::{DecodeError, StreamDecoder, Table};

use super::error::ImageError;
use super::image::Image;
use crate::link::LogLine;

/// Decodes the log of one image.
pub(super) struct Logs {
    /// `None` if the image logs nothing.
    decoder: Option<Box<dyn StreamDecoder + Send + Sync>>,
    lines: Vec<LogLine>,
}

impl Logs {
    pub(super) fn of(image: &Image) -> Result<Self, ImageError> {
        let table = Table::parse(&image.elf)
            .map_err(|error| ImageError::NotOne { name: image.name.clone(), why: format!("its log: {error:#}") })?;
        // One table for each rig that is opened, kept to the end of the program: the decoder borrows it.
        let decoder = table.map(|table| Box::leak(Box::new(table)).new_stream_decoder());
        Ok(Self { decoder, lines: Vec::new() })
    }

    /// Takes bytes that arrived at this time.
    pub(super) fn take(&mut self, bytes: &[u8], at_ns: u64) {
        let Some(decoder) = &mut self.decoder else { return };
        decoder.received(bytes);
        loop {
            match decoder.decode() {
                Ok(frame) => {
                    let level = frame.level().map_or("print", |level| level.as_str()).to_owned();
                    self.lines.push(LogLine { at_ns, level, text: frame.display_message().to_string() });
                }
                Err(DecodeError::UnexpectedEof) => return,
                Err(DecodeError::Malformed) => {
                    let text = "a line of the log was damaged or lost".to_owned();
                    self.lines.push(LogLine { at_ns, level: "warn".into(), text });
                }
            }
        }
    }

    pub(super) fn lines(&mut self) -> Vec<LogLine> {
        std::mem::take(&mut self.lines)
    }
}
