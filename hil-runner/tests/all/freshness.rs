//! No pulse on the line makes an old number pass for a new one; a small part, with fixed seeds, of what
//! `cargo bench -p hil-runner --bench freshness` measures.

use crate::pulses::{Case, Chip, Power, Tally, run};

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

/// A proof writes limits of its own for a while. A try that a pulse spoils, and the next one, must not leave them
/// there.
#[test]
fn after_proofs_under_pulses_a_sensor_has_its_own_limits_and_resolution() {
    let bench = crate::common::Bench::new();
    let rig = "rig = \"one\"\nkind = \"virtual\"\n[line]\nsupply = \"3.3 V\"\npull_up = \"2.2 kohm\"\ncable = \"3 m\"\nambient = \"20 degC\"\n\
               strong_pull_up = \"10 ohm\"\n[[sensor]]\nlabel = \"s0\"\nrom = \"28:EA107D906941:69\"\npart = \"DS18B20\"\npower = \"parasite\"\n";
    let limits = "alarm = { low = \"15 degC\", high = \"35 degC\" }";
    let steps = "[[step]]\nfind = {}\n[[step]]\nconfigure = { LIMITS }\n[[step]]\n[step.repeat]\ntimes = 30\nmay_fail = \"99 %\"\n\
                 [[step.repeat.step]]\ninject = { noise = { rate = \"10 /s\", width = \"100 us\" } }\n\
                 [[step.repeat.step]]\nmeasure = { convert = \"one by one\" }\n\
                 [[step.repeat.step]]\nclear = \"noise\"\n[[step]]\nlabel = \"as before\"\nholds = { LIMITS }\n";
    let rig = bench.file("rig.toml", rig);
    let file = bench.file("s.toml", &format!("scenario = \"limits\"\n{}", steps.replace("LIMITS", limits)));
    for seed in ["1", "2", "3", "4", "5", "6"] {
        let run = crate::common::call(&["run", &file, "--rig", &rig, "--seed", seed]);
        assert!(run.out.contains("\npassed   4 as before"), "seed {seed}: {}", run.out);
    }
}

/// A rig of DS18B20 with these kinds of power, on a line that is quiet.
fn quiet_rig(pull_up: &str, ambient: &str, powers: &[&str]) -> String {
    let mut text = format!(
        "rig = \"quiet\"\nkind = \"virtual\"\n[line]\nsupply = \"5 V\"\npull_up = \"{pull_up}\"\ncable = \"5 m\"\n\
         strong_pull_up = \"10 ohm\"\nambient = \"{ambient}\"\n"
    );
    for (number, power) in powers.iter().enumerate() {
        let rom = rom(u8::try_from(number).expect("few sensors"));
        text +=
            &format!("[[sensor]]\nlabel = \"s{number}\"\nrom = \"{rom}\"\npart = \"DS18B20\"\npower = \"{power}\"\n");
    }
    text
}

/// An invented ROM code with a right CRC.
fn rom(number: u8) -> slotwise::bus::RomCode {
    // Spread over the range, so that searches meet many conflicts.
    let serial = u64::from(number).wrapping_mul(0x9E37_79B9_7F4A_7C15).to_be_bytes();
    (0..=u8::MAX)
        .find_map(|crc| {
            let [a, b, c, d, e, f, ..] = serial;
            slotwise::bus::RomCode::new([0x28, a, b, c, d, e, f, crc]).ok()
        })
        .expect("one of 256 bytes is the CRC")
}

const NEAR: &str = "measure = { near = { reference = \"rig\", within = \"0.6 degC\" } }";

/// The current of ten sensors pulls the line down before the strong pull-up closes; sensors on their own supply take
/// that edge for a read slot, and their "busy" starves the others: 85 degC is what those hold. Measured alone they are
/// right.
#[test]
fn sensors_on_parasite_power_that_others_starve_are_measured_again_alone() {
    let bench = crate::common::Bench::new();
    let rig = bench.file("rig.toml", &quiet_rig("1 kohm", "20 degC", &["local", "parasite"].repeat(10)));
    let file = bench.file("s.toml", &crate::common::scenario(&[NEAR]));
    let mut starved = 0;
    for seed in ["1", "2", "3", "4"] {
        let run = crate::common::call(&["run", &file, "--rig", &rig, "--seed", seed]);
        assert_eq!(run.code, Some(0), "seed {seed}: {}", run.out);
        assert!(run.out.contains("20 readings, 20 degC"), "seed {seed}: {}", run.out);
        starved += u32::from(run.out.contains("10 measured again alone"));
    }
    assert!(starved > 0, "no run met the case");
}

/// One by one and together, on each kind of power.
#[test]
fn a_genuine_85_degc_on_a_quiet_line_is_not_doubted() {
    let bench = crate::common::Bench::new();
    let one_by_one = NEAR.replace("near", "convert = \"one by one\", near");
    let file = bench.file("s.toml", &crate::common::scenario(&[NEAR, NEAR, &one_by_one, &one_by_one]));
    for power in ["local", "parasite"] {
        let rig = bench.file(&format!("{power}.toml"), &quiet_rig("2.2 kohm", "85 degC", &[power; 3]));
        let run = crate::common::call(&["run", &file, "--rig", &rig, "--seed", "1"]);
        assert_eq!(run.code, Some(0), "{power}: {}", run.out);
    }
}

/// Those that are not measured convert as well, and their alarm flags change. That is no evidence for them.
#[test]
fn a_proof_of_one_sensor_on_parasite_power_is_none_for_the_others() {
    let bench = crate::common::Bench::new();
    let rig = bench.file("rig.toml", &quiet_rig("2.2 kohm", "20 degC", &["parasite"; 2]));
    let steps = [
        "measure = { sensors = [\"s0\"] }",
        "measure = { sensors = [\"s1\"], convert = \"not\", doubt = \"no conversion\" }",
        "measure = { sensors = [\"s1\"], near = { reference = \"rig\", within = \"0.6 degC\" } }",
    ];
    let file = bench.file("s.toml", &crate::common::scenario(&steps));
    let run = crate::common::call(&["run", &file, "--rig", &rig, "--seed", "1"]);
    assert_eq!(run.code, Some(0), "{}", run.out);
}
