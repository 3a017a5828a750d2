//! A reader that ends in an error before a single token, or a header, can fill the memory.

use std::io::{self, BufRead, Read};

/// What is read through it counts against an allowance, which its owner renews.
#[derive(Debug)]
pub(super) struct Limited<R> {
    inner: R,
    left: u64,
}

impl<R> Limited<R> {
    pub(super) const fn new(inner: R, allowance: u64) -> Self {
        Self { inner, left: allowance }
    }

    /// From here on so many bytes may be read.
    pub(super) const fn allow(&mut self, bytes: u64) {
        self.left = bytes;
    }

    fn spend(&mut self, bytes: usize) {
        self.left = self.left.saturating_sub(bytes as u64);
    }

    fn check(&self) -> io::Result<()> {
        if self.left > 0 { Ok(()) } else { Err(io::Error::other("longer than anything a capture needs")) }
    }
}

impl<R: BufRead> Read for Limited<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.check()?;
        let most = usize::try_from(self.left).unwrap_or(usize::MAX).min(buffer.len());
        let read = self.inner.read(&mut buffer[..most])?;
        self.spend(read);
        Ok(read)
    }
}

impl<R: BufRead> BufRead for Limited<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.check()?;
        self.inner.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.spend(amount);
        self.inner.consume(amount);
    }
}
