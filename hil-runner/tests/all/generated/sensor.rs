//! A thermometer as its datasheet has it: ROM code, scratchpad, EEPROM, times.

use super::rng::Rng;

/// The remainder of the division by X^8 + X^5 + X^4 + 1, lowest bit first (DS18B20 datasheet (7/19), CRC Generation),
/// as a division of polynomials and not as the shift register that the datasheet draws.
pub fn crc(bytes: &[u8]) -> u8 {
    // Coefficients, the first bit on the wire being the highest power, and eight zeros after them.
    let mut coefficients: Vec<bool> =
        bytes.iter().flat_map(|byte| (0..8).map(move |bit| byte >> bit & 1 == 1)).chain([false; 8]).collect();
    for place in 0..coefficients.len() - 8 {
        if coefficients[place] {
            for power in [8, 5, 4, 0] {
                coefficients[place + 8 - power] ^= true;
            }
        }
    }
    let rest = &coefficients[coefficients.len() - 8..];
    rest.iter().enumerate().map(|(place, bit)| u8::from(*bit) << place).sum()
}

#[derive(Clone, Debug)]
pub struct Sensor {
    pub rom: [u8; 8],
    pub high: u8,
    pub low: u8,
    /// R1 and R0 as a number.
    pub resolution: u8,
    /// TH, TL, resolution in EEPROM.
    pub eeprom: (u8, u8, u8),
    /// Sixteenths of a degree in the register.
    pub sixteenths: i16,
    pub is_parasite: bool,
    pub is_there: bool,
    /// How long it holds a read 0, from the falling edge.
    pub hold_ns: u64,
    pub presence_after_ns: u64,
    pub presence_low_ns: u64,
    /// How long a conversion of it takes, in thousandths of the maximum.
    pub pace: u64,
    pub byte_6: u8,
    /// Bytes that are not as they should be: place and what is read.
    pub oddity: Option<(usize, u8)>,
}

impl Sensor {
    pub fn new(family: u8, rng: &mut Rng) -> Self {
        let mut rom = [family, 0, 0, 0, 0, 0, 0, 0];
        for byte in &mut rom[1..7] {
            *byte = rng.below(256) as u8;
        }
        rom[7] = crc(&rom[..7]);
        let resolution = if family == 0x10 { 3 } else { rng.below(4) as u8 };
        let (high, low) = (rng.between(30, 100) as u8, rng.between(0, 20) as u8);
        Self {
            rom,
            high,
            low,
            resolution,
            eeprom: (high, low, resolution),
            sixteenths: 0x0550,
            is_parasite: false,
            is_there: true,
            hold_ns: rng.between(16_000, 59_000),
            presence_after_ns: rng.between(15_000, 60_000),
            presence_low_ns: rng.between(60_000, 240_000),
            pace: rng.between(500, 990),
            byte_6: rng.below(17) as u8,
            oddity: None,
        }
    }

    pub fn bit(&self, place: usize) -> bool {
        self.rom[place / 8] >> (place % 8) & 1 == 1
    }

    pub fn has_configuration(&self) -> bool {
        self.rom[0] != 0x10
    }

    /// tCONV at most (DS18B20 datasheet (7/19), Table 2; DS18S20 datasheet, features).
    pub fn conversion_most_ns(&self) -> u64 {
        if self.has_configuration() { 93_750_000 << self.resolution } else { 750_000_000 }
    }

    pub fn conversion_ns(&self) -> u64 {
        self.conversion_most_ns() / 1_000 * self.pace
    }

    /// DS18B20 datasheet (7/19), figures 9 and 10; DS18S20 datasheet, Memory; DS1825: address pins in the low nibble.
    pub fn scratchpad(&self) -> [u8; 9] {
        let (register, configuration, byte_6) = if self.has_configuration() {
            let pins = if self.rom[0] == 0x3B { self.rom[1] & 0x0F } else { 0x0F };
            (self.sixteenths, 0x10 | self.resolution << 5 | pins, self.byte_6)
        } else {
            // Half degrees; COUNT REMAIN so that the extended value is the half degree.
            (self.sixteenths >> 3, 0xFF, if self.sixteenths & 8 == 0 { 12 } else { 4 })
        };
        let [low, high] = register.to_le_bytes();
        let mut bytes = [low, high, self.high, self.low, configuration, 0xFF, byte_6, 0x10, 0];
        if let Some((place, byte)) = self.oddity {
            bytes[place] = byte;
        }
        bytes[8] = crc(&bytes[..8]);
        bytes
    }

    /// A new temperature, well away from the power-on value and from the one before.
    pub fn measure(&mut self, rng: &mut Rng) {
        let most = if self.rom[0] == 0x42 { 80 * 16 } else { 120 * 16 };
        loop {
            let new = rng.between(0, most + 40 * 16) as i16 - 40 * 16;
            if (new - 0x0550).abs() > 32 && (new - self.sixteenths).abs() > 1 {
                self.sixteenths = new;
                return;
            }
        }
    }

    pub fn lose_supply(&mut self) {
        self.sixteenths = 0x0550;
        self.recall();
    }

    pub fn recall(&mut self) {
        (self.high, self.low, self.resolution) = self.eeprom;
    }

    pub fn is_in_alarm(&self) -> bool {
        let whole = i32::from(self.sixteenths >> 4);
        whole >= i32::from(self.high as i8) || whole <= i32::from(self.low as i8)
    }

    /// As it is written in reports: `28:EE94F7271601:8D`, digits alone.
    pub fn digits(&self) -> String {
        self.rom.iter().map(|byte| format!("{byte:02X}")).collect()
    }
}
