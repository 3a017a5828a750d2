//! Reading a pipe that may be silent for a long time, so that the user can end it.

use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread;
use std::time::Duration;

/// So much is read at a time.
const PIECE_BYTES: usize = 64 << 10;
/// So often is it seen whether the user has ended it.
const INTERVAL: Duration = Duration::from_millis(100);

/// A file that a thread of its own opens and reads: both wait for a writer. Ends where the file does, or once `is_ended` says so.
pub(super) struct PipeReader<F> {
    pieces: Receiver<io::Result<Vec<u8>>>,
    piece: Cursor<Vec<u8>>,
    is_ended: F,
}

impl<F: Fn() -> bool> PipeReader<F> {
    /// A thread that waits for a writer is left behind when this is dropped.
    pub(super) fn open(path: PathBuf, is_ended: F) -> Self {
        let (sender, pieces) = sync_channel(4);
        thread::spawn(move || {
            let mut file = match File::open(path) {
                Ok(file) => file,
                Err(error) => return drop(sender.send(Err(error))),
            };
            loop {
                let mut piece = vec![0; PIECE_BYTES];
                let read = match file.read(&mut piece) {
                    Ok(0) => return,
                    Ok(bytes) => {
                        piece.truncate(bytes);
                        Ok(piece)
                    }
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    Err(error) => Err(error),
                };
                let is_last = read.is_err();
                if sender.send(read).is_err() || is_last {
                    return;
                }
            }
        });
        Self { pieces, piece: Cursor::default(), is_ended }
    }
}

impl<F: Fn() -> bool> Read for PipeReader<F> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let bytes = self.piece.read(buffer)?;
            if bytes > 0 || buffer.is_empty() {
                return Ok(bytes);
            }
            match self.pieces.recv_timeout(INTERVAL) {
                Ok(piece) => self.piece = Cursor::new(piece?),
                Err(RecvTimeoutError::Timeout) if !(self.is_ended)() => {}
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return Ok(0),
            }
        }
    }
}
