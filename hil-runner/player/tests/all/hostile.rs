//! Masters that no datasheet allows: the player neither hangs nor answers when it is not addressed.
//!
//! 100 000 slots by default; `SLOTWISE_HOSTILE_SLOTS=10000000` for all.

use slotwise_player::{Course, Fault, Part, SensorConfig};

use crate::played::{Hand, Played, crowd};

/// A generator of its own: the run is the same for a seed.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }
}

fn slots() -> u64 {
    std::env::var("SLOTWISE_HOSTILE_SLOTS").ok().and_then(|text| text.parse().ok()).unwrap_or(100_000)
}

/// A low and a high as no master should make them.
fn hostile_slot(hand: &mut Hand, random: &mut Random) {
    let low_ns = match random.below(20) {
        0 => random.below(1_000) + 1,
        1 => 60_000 + random.below(300_000),
        2 => 380_000 + random.below(200_000),
        3..=10 => 1_000 + random.below(14_000),
        _ => 60_000 + random.below(60_000),
    };
    let high_ns = match random.below(8) {
        0 => random.below(1_000) + 1,
        1 => random.below(600_000),
        _ => 1_000 + random.below(80_000),
    };
    hand.low(low_ns);
    hand.played.pass(high_ns);
}

#[test]
fn after_any_hostile_slots_a_sound_transaction_is_answered() {
    let played = Played::new();
    crowd(&played);
    played.player(|player| {
        player.play(u32::MAX, Fault::AnswerLate { ns: 50_000 }, Course::Rate { permille: 20, seed: 1 }).unwrap();
        player
            .play(
                u32::MAX,
                Fault::Presence { delay_ns: 4_000_000, width_ns: 4_000_000 },
                Course::Rate { permille: 20, seed: 2 },
            )
            .unwrap();
    });
    let only = SensorConfig::new(Part::Ds18b20, 0xABCD);
    let index = played.add(only);
    let mut hand = Hand::new(&played);
    let mut random = Random(0x5EED);
    let mut left = slots();
    while left > 0 {
        let burst = (random.below(300) + 1).min(left);
        left -= burst;
        (0..burst).for_each(|_| hostile_slot(&mut hand, &mut random));
        // Beyond the longest pulse of a fault.
        played.pass(20_000_000);
        assert!(hand.is_high(), "the line is let go");
        let sound = (0..8).any(|_| {
            hand.reset();
            hand.write(&[0x55]);
            hand.write(&only.rom.0);
            hand.write(&[0xBE]);
            let read: [u8; 9] = hand.read();
            played.pass(20_000_000);
            read == played.player(|player| player.state(index)).unwrap().scratchpad
        });
        assert!(sound, "it answers after {left} slots were left");
    }
}

#[test]
fn a_sensor_that_is_not_addressed_never_pulls_the_line() {
    let played = Played::new();
    played.add(SensorConfig::new(Part::Ds18b20, 1));
    let mut hand = Hand::new(&played);
    let mut random = Random(0xBAD);
    for _ in 0..slots() / 1_000 {
        assert!(hand.reset());
        // Match ROM of another: all of its code but one bit, which differs.
        let mut other = SensorConfig::new(Part::Ds18b20, 1).rom.0;
        other[1 + random.below(6) as usize] ^= 1 << random.below(8);
        hand.write(&[0x55]);
        hand.write(&other);
        for _ in 0..1_000 {
            // Slots of any length that is no reset; none makes a low of 380 us.
            let (low_ns, high_ns) = (1 + random.below(300_000), 1_000 + random.below(90_000));
            hand.low(low_ns);
            assert!(!played.pulls());
            played.pass(high_ns);
            assert!(!played.pulls());
        }
    }
}
