//! No pulse on the line makes an old number pass for a new one; a small part, with fixed seeds, of what `cargo bench -p hil-runner --bench
//! freshness` measures.

mod pulses;

use pulses::{Case, Chip, Power, Tally, run};

const POWERS: [Power; 2] = [Power::Local, Power::Parasite];
const CONVERT: [&str; 2] = ["together", "one by one"];

fn case(power: Power, convert: &'static str, noise: Option<(u32, u32)>) -> Case {
    Case { power, convert, proof: "each", chip: Chip::Virtual, noise }
}

#[test]
fn on_a_quiet_line_every_reading_is_right_and_none_is_doubted() {
    for power in POWERS {
        for convert in CONVERT {
            let tally = run(&case(power, convert, None), 1, 10);
            assert_eq!(tally, Tally { right: 40, ..Tally::default() }, "{power:?}, {convert}");
        }
    }
}

#[test]
fn no_pulse_makes_an_old_number_pass() {
    for power in POWERS {
        for convert in CONVERT {
            let mut sum = Tally::default();
            for noise in [(1, 500), (3, 700), (10, 1_000), (100, 20)] {
                for seed in 0..4 {
                    sum.add(&run(&case(power, convert, Some(noise)), seed, 10));
                }
            }
            assert_eq!(sum.wrong, 0, "{power:?}, {convert}: {sum:?}");
            assert!(sum.right > 200, "{power:?}, {convert}: {sum:?}");
        }
    }
}

/// The test bites: without proof the same pulses do it.
#[test]
fn without_proof_pulses_do_make_old_numbers_pass() {
    for convert in CONVERT {
        let mut sum = Tally::default();
        for seed in 0..4 {
            sum.add(&run(&Case { proof: "none", ..case(Power::Local, convert, Some((3, 500))) }, seed, 10));
        }
        assert!(sum.wrong > 5, "{convert}: {sum:?}");
    }
}

#[test]
fn in_light_noise_few_readings_are_doubted() {
    for power in POWERS {
        let mut sum = Tally::default();
        for width_us in [1, 20, 90] {
            sum.add(&run(&case(power, "together", Some((1, width_us))), 7, 20));
        }
        assert!(sum.right_doubted * 20 < sum.right && sum.failed * 20 < sum.right, "{power:?}: {sum:?}");
    }
}
