//! Transactions of a master, as blocks of a capture.

use super::maker::{Maker, Target, Wait};

impl Maker {
    /// One search pass: at a conflict the bit of `path` is taken, or 0. The ROM code that is found, and where 0 was
    /// taken last.
    pub fn pass(&mut self, code: u8, path: &[bool], stop_after: usize) -> Option<(Vec<bool>, Option<usize>)> {
        self.reset();
        self.write(&[code]);
        let mut taking_part: Vec<usize> = self.present();
        if code == 0xEC {
            taking_part.retain(|place| self.sensors[*place].is_in_alarm());
        }
        let mut chosen = Vec::new();
        let mut last_zero = None;
        for place in 0..64 {
            if place == stop_after {
                return None;
            }
            let (ones, zeros): (Vec<usize>, Vec<usize>) =
                taking_part.iter().partition(|sensor| self.sensors[**sensor].bit(place));
            let one = self.read_bit(&zeros);
            let zero = self.read_bit(&ones);
            let bit = match (one, zero) {
                // No sensor takes part any more.
                (true, true) => return None,
                (true, false) => true,
                (false, true) => false,
                (false, false) => {
                    let bit = path.get(place).copied().unwrap_or(false);
                    if !bit {
                        last_zero = Some(place);
                    }
                    bit
                }
            };
            self.write_bit(bit);
            chosen.push(bit);
            taking_part.retain(|sensor| self.sensors[*sensor].bit(place) == bit);
        }
        Some((chosen, last_zero))
    }

    pub fn search(&mut self, code: u8) {
        let mut path: Vec<bool> = Vec::new();
        for _ in 0..32 {
            let Some((mut chosen, last_zero)) = self.pass(code, &path, 64) else { break };
            self.pause();
            let Some(place) = last_zero else { break };
            chosen.truncate(place);
            chosen.push(true);
            path = chosen;
        }
        self.pause();
    }

    pub fn power(&mut self, target: Target) {
        self.select(target);
        self.write(&[0xB4]);
        let parasites: Vec<usize> =
            self.reached(target).into_iter().filter(|place| self.sensors[*place].is_parasite).collect();
        for _ in 0..self.rng.between(1, 3) {
            let _ = self.read_bit(&parasites);
        }
        self.pause();
    }

    /// Convert T up to the end of the command; the longest it takes, and the longest it may.
    pub fn convert_command(&mut self, target: Target) -> (u64, u64) {
        self.select(target);
        self.write(&[0x44]);
        let reached = self.reached(target);
        for place in &reached {
            let rng = &mut self.rng;
            self.sensors[*place].measure(rng);
        }
        let takes = reached.iter().map(|place| self.sensors[*place].conversion_ns()).max().unwrap_or(0);
        let most = reached.iter().map(|place| self.sensors[*place].conversion_most_ns()).max().unwrap_or(0);
        (takes, most)
    }

    pub fn convert(&mut self, target: Target, wait: Wait) {
        let (takes, most) = self.convert_command(target);
        let from = self.rose_at;
        match wait {
            Wait::Timed => {
                let more = self.rng.between(100_000, 40_000_000);
                self.now = self.now.max(from + most + more);
            }
            Wait::Polled => self.poll_until(from, takes, &self.reached(target)),
        }
    }

    /// Polls until these are done.
    pub fn poll_until(&mut self, from: u64, takes: u64, busy: &[usize]) {
        loop {
            let is_done = self.now >= from + takes;
            let hold: Vec<usize> = if is_done { Vec::new() } else { busy.to_vec() };
            let _ = self.read_bit(&hold);
            if is_done {
                break;
            }
            let poll = self.master.poll.one(&mut self.rng);
            self.rest(poll);
        }
        self.pause();
    }

    /// Read Scratchpad, so many bytes of it.
    pub fn read_bytes(&mut self, target: Target, bytes: usize) {
        self.select(target);
        self.write(&[0xBE]);
        let answers: Vec<(usize, [u8; 9])> =
            self.reached(target).into_iter().map(|place| (place, self.sensors[place].scratchpad())).collect();
        let answers: Vec<(usize, &[u8])> = answers.iter().map(|(place, bytes)| (*place, &bytes[..])).collect();
        self.answer(&answers, bytes * 8);
        self.pause();
    }

    pub fn read(&mut self, target: Target) {
        self.read_bytes(target, 9);
    }

    /// Write Scratchpad of one.
    pub fn write_settings(&mut self, place: usize, high: u8, low: u8, resolution: u8) {
        self.select(Target::One(place));
        let sensor = &self.sensors[place];
        let mut bytes = vec![0x4E, high, low];
        if sensor.has_configuration() {
            bytes.push(0x1F | resolution << 5);
        }
        self.write(&bytes);
        let sensor = &mut self.sensors[place];
        (sensor.high, sensor.low) = (high, low);
        if sensor.has_configuration() {
            sensor.resolution = resolution;
        }
        self.pause();
    }

    /// Other settings than it has.
    pub fn other_settings(&mut self, place: usize) -> (u8, u8, u8) {
        let sensor = &self.sensors[place];
        (sensor.high ^ 0x05, sensor.low ^ 0x03, (sensor.resolution + 1) % 4)
    }

    /// Copy Scratchpad, and the wait for it: tWR of 10 ms at most.
    pub fn copy(&mut self, target: Target) {
        self.select(target);
        self.write(&[0x48]);
        for place in self.reached(target) {
            let sensor = &mut self.sensors[place];
            sensor.eeprom = (sensor.high, sensor.low, sensor.resolution);
        }
        let more = self.rng.between(10_100_000, 15_000_000);
        self.now = self.rose_at + more;
    }

    pub fn recall(&mut self, target: Target) {
        self.select(target);
        self.write(&[0xB8]);
        for place in self.reached(target) {
            self.sensors[place].recall();
        }
        let more = self.rng.between(1_000_000, 5_000_000);
        self.rest(more);
    }

    pub fn read_rom(&mut self) {
        self.reset();
        self.write(&[0x33]);
        let answers: Vec<(usize, [u8; 8])> =
            self.present().into_iter().map(|place| (place, self.sensors[place].rom)).collect();
        let answers: Vec<(usize, &[u8])> = answers.iter().map(|(place, bytes)| (*place, &bytes[..])).collect();
        self.answer(&answers, 64);
        self.pause();
    }

    /// All of them by name, or the only one without.
    pub fn target(&mut self, place: usize) -> Target {
        if self.sensors.len() == 1 && self.rng.one_in(2) { Target::All } else { Target::One(place) }
    }

    pub fn any(&mut self) -> usize {
        let present = self.present();
        present[self.rng.below(present.len() as u64) as usize]
    }

    pub fn wait_kind(&mut self) -> Wait {
        if self.is_parasite() || self.rng.one_in(2) { Wait::Timed } else { Wait::Polled }
    }

    /// All convert, and each is read.
    pub fn measure(&mut self) {
        let wait = self.wait_kind();
        self.convert(Target::All, wait);
        for place in self.present() {
            let target = self.target(place);
            self.read(target);
        }
    }
}
