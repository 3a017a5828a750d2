//! Bad files: each kind of mistake, with the place and the words of the message.

use super::super::*;
use super::rig;

/// A file with a step that begins in line 3, and another one that expects something.
pub(super) fn file(step: &str) -> String {
    format!("scenario = \"a day\"\n\n[[step]]\n{step}\n\n[[step]]\nfind = {{}}\n")
}

/// What is said of a file with a step that begins in line 3.
#[track_caller]
pub(super) fn rejects(step: &str, messages: &[&str]) {
    rejects_file(&file(step), messages);
}

#[track_caller]
pub(super) fn rejects_file(text: &str, messages: &[&str]) {
    let errors = Scenario::parse("day.toml", text, &rig()).expect_err("the file is bad");
    assert_eq!(errors.to_string(), messages.join("\n"));
}

/// The second place that the only problem of a step points at, as text.
#[track_caller]
fn second_place(step: &str) -> String {
    let text = file(step);
    let errors = Scenario::parse("day.toml", &text, &rig()).expect_err("the file is bad");
    assert_eq!(errors.problems().len(), 1, "{errors}");
    let second = errors.problems()[0].marks().get(1).expect("there is a second place");
    text[second.span.clone()].to_owned()
}

#[track_caller]
fn hint(step: &str) -> String {
    let text = file(step);
    let errors = Scenario::parse("day.toml", &text, &rig()).expect_err("the file is bad");
    assert_eq!(errors.problems().len(), 1, "{errors}");
    errors.problems()[0].hint().expect("there is a hint").to_owned()
}

#[test]
fn rejects_files_without_name_or_steps() {
    rejects_file(
        "",
        &[
            "day.toml:1:1: expected the key scenario in the scenario file, such as scenario = \"a name\", found none",
            "day.toml:1:1: expected the key step in the scenario file, such as [[step]], found none",
        ],
    );
    rejects_file("scenario = \"a day\"\nstep = []\n", &["day.toml:2:8: expected 1 to 1000 tables [[step]], found 0"]);
    rejects_file(
        "scenario = \"a day\"\n[step]\nfind = {}\n",
        &["day.toml:2:1: expected 1 to 1000 tables [[step]], found a single table"],
    );
    rejects_file(
        "scenario = \"a day\"\nstep = [7]\n",
        &[
            "day.toml:2:9: expected a table with keys of [[step]] (label, find, configure, holds, measure, fixed_point, alarm_search, \
           power_cycle, ambient, inject, clear, wait, repeat), found the number 7",
        ],
    );
    rejects_file(
        "rig = \"shed\"\nkind = \"virtual\"\n",
        &["day.toml:1:1: expected a scenario file, with the key scenario, found a rig file"],
    );
}

#[test]
fn rejects_cautions_that_are_none() {
    let form = "expected a list of up to 20 texts, each of 1 to 300 printable characters in quotes";
    let file = |cautions: &str| format!("scenario = \"a day\"\ncautions = {cautions}\n[[step]]\nfind = {{}}\n");
    rejects_file(&file("\"mind\""), &[&format!("day.toml:2:12: {form}, found \"mind\"")]);
    rejects_file(
        &file("[\"\", 3]"),
        &[&format!("day.toml:2:13: {form}, found \"\""), &format!("day.toml:2:17: {form}, found the number 3")],
    );
    let many = format!("[{}]", "\"mind\", ".repeat(21));
    rejects_file(&file(&many), &[&format!("day.toml:2:12: {form}, found a list of 21")]);
}

#[test]
fn rejects_steps_without_an_action_and_with_two() {
    rejects(
        "label = \"idle\"",
        &[
            "day.toml:3:1: expected one action in the step: find, configure, holds, measure, fixed_point, alarm_search, power_cycle, ambient, \
           inject, clear, wait or repeat, found none",
        ],
    );
    rejects("find = {}\nwait = \"1 s\"", &["day.toml:5:1: expected one action in the step, found find and wait"]);
    assert_eq!(second_place("find = {}\nwait = \"1 s\""), "find");
    rejects(
        "wait = \"1 s\"\nfind = { times = 0 }\nclear = \"short\"",
        &[
            "day.toml:5:1: expected one action in the step, found wait, find and clear",
            "day.toml:5:18: expected a whole number from 1 to 1000, found the number 0",
        ],
    );
}

#[test]
fn rejects_unknown_keys_once_each() {
    let keys = "label, find, configure, holds, measure, fixed_point, alarm_search, power_cycle, ambient, inject, clear, wait, repeat";
    rejects("mesure = {}", &[&format!("day.toml:4:1: expected a key of [[step]] ({keys}), found \"mesure\"")]);
    assert_eq!(hint("mesure = {}"), "the nearest known key is measure");
    rejects(
        "measure = { sensor = \"door\", nearr = 1 }",
        &[
            "day.toml:4:13: expected a key of measure (sensors, convert, proof, corrected, near, agree, published, quantised, in_time, doubt, \
             fails), found \"sensor\"",
            "day.toml:4:30: expected a key of measure (sensors, convert, proof, corrected, near, agree, published, quantised, in_time, doubt, \
             fails), found \"nearr\"",
        ],
    );
    rejects(
        "inject = { shortt = \"1 ohm\" }",
        &["day.toml:4:12: expected a key of inject (short, open, unplug, noise, \
        brown_out, slow_sensor, pull_up, bit_errors), found \"shortt\""],
    );
}

#[test]
fn rejects_labels_that_no_sensor_has() {
    rejects(
        "measure = { sensors = \"uper shelf\" }",
        &["day.toml:4:23: expected the label of a sensor of the rig \"shed\", found \"uper shelf\""],
    );
    assert_eq!(hint("measure = { sensors = \"uper shelf\" }"), "the nearest label is \"upper shelf\"");
    rejects(
        "find = { expect = [\"door\", \"cat\"] }",
        &["day.toml:4:28: expected the label of a sensor of the rig \"shed\", found \"cat\""],
    );
    assert_eq!(
        hint("find = { expect = [\"door\", \"cat\"] }"),
        "its labels are \"upper shelf\", \"lower shelf\", \"door\""
    );
    assert_eq!(hint("find = { expect = [\"all\"] }"), "\"all\" is written alone, not in a list");
    rejects(
        "inject = { bit_errors = { sensor = \"dor\", rate = \"1 %\" } }",
        &["day.toml:4:36: expected the label of a sensor of the rig \"shed\", found \"dor\""],
    );
}

#[test]
fn rejects_selections_that_are_none() {
    rejects(
        "measure = { sensors = [\"door\", \"door\"] }",
        &["day.toml:4:32: expected each sensor once, found \"door\" again"],
    );
    assert_eq!(second_place("measure = { sensors = [\"door\", \"door\"] }"), "\"door\"");
    rejects("measure = { sensors = [] }", &["day.toml:4:23: expected at least one sensor, found none"]);
    rejects(
        "ambient = { sensors = \"none\", to = \"1 degC\" }",
        &["day.toml:4:23: expected at least one sensor, found none"],
    );
    rejects(
        "inject = { unplug = { except = [\"door\", \"upper shelf\", \"lower shelf\"] } }",
        &["day.toml:4:21: expected at least one sensor, found none"],
    );
    let form = "expected sensors: \"all\", \"none\", a label, a list of labels, or { except = a label or a list }";
    rejects("measure = { sensors = 3 }", &[&format!("day.toml:4:23: {form}, found the number 3")]);
    rejects("measure = { sensors = { but = \"door\" } }", &[&format!("day.toml:4:23: {form}, found a table")]);
    rejects(
        "measure = { sensors = [\"door\", \"door\", \"door\", \"door\"] }",
        &["day.toml:4:48: expected at most the 3 sensors of the rig, found a list of 4"],
    );
}

#[test]
fn rejects_the_wrong_dimension_and_absurd_numbers() {
    rejects("wait = \"30 m\"", &["day.toml:4:8: expected a time such as \"750 ms\", found \"30 m\", a length"]);
    rejects("wait = 30", &["day.toml:4:8: expected a time such as \"750 ms\", found the number 30"]);
    rejects("wait = \"400 d\"", &["day.toml:4:8: expected a time from 1 ms to 7 d, found \"400 d\""]);
    rejects("wait = \"0 s\"", &["day.toml:4:8: expected a time from 1 ms to 7 d, found \"0 s\""]);
    rejects("wait = \"10 us\"", &["day.toml:4:8: expected a time from 1 ms to 7 d, found \"10 us\""]);
    rejects("power_cycle = { off = \"1 d\" }", &["day.toml:4:23: expected a time from 1 ms to 1 h, found \"1 d\""]);
    rejects(
        "ambient = { to = \"-300 degC\" }",
        &["day.toml:4:18: expected a temperature from -55 degC to 125 degC, found \"-300 degC\", below absolute zero"],
    );
    rejects(
        "measure = { agree = \"-1 degC\" }",
        &["day.toml:4:21: expected a temperature difference from 0 degC to 180 degC, found \"-1 degC\""],
    );
    rejects(
        "inject = { noise = { rate = \"2 kHz\", width = \"5 V\" } }",
        &[
            "day.toml:4:29: expected a rate such as \"200 /s\", found \"2 kHz\", a frequency",
            "day.toml:4:46: expected a time such as \"10 ms\", found \"5 V\", a voltage",
        ],
    );
    rejects(
        "inject = { bit_errors = { sensor = \"door\", rate = \"101 %\" } }",
        &["day.toml:4:51: expected a share from 1 ppm to 100 %, found \"101 %\""],
    );
    rejects(
        "inject = { slow_sensor = { sensor = \"door\", conversion = \"80 %\" } }",
        &["day.toml:4:58: expected a share from 101 % to 10000 %, found \"80 %\""],
    );
    rejects(
        "find = { times = 1000000 }",
        &["day.toml:4:18: expected a whole number from 1 to 1000, found the number 1000000"],
    );
    rejects(
        "find = { times = 99999999999999999999999999 }",
        &["day.toml:4:18: expected a whole number from 1 to 1000, found the number 99999999999999999999999999"],
    );
    rejects("find = { times = 2.5 }", &["day.toml:4:18: expected a whole number from 1 to 1000, found the number 2.5"]);
}

#[test]
fn rejects_words_that_mean_nothing() {
    rejects(
        "measure = { convert = \"one-by-one\", doubt = \"power on value\" }",
        &[
            "day.toml:4:23: expected \"together\", \"one by one\" or \"not\", found \"one-by-one\"",
            "day.toml:4:45: expected one or a list of the doubts \"power-on value\", \"no conversion\", \"undefined bits\", \
             \"reserved bytes\", \"out of range\" or \"shared family\", found \"power on value\"",
        ],
    );
    assert_eq!(hint("measure = { convert = \"one-by-one\" }"), "the nearest known word is \"one by one\"");
    assert_eq!(hint("measure = { fails = \"CRC\" }"), "the nearest known word is \"crc\"");
    rejects("measure = { in_time = \"yes\" }", &["day.toml:4:23: expected true or false, found \"yes\""]);
    rejects(
        "clear = \"everything\"",
        &[
            "day.toml:4:9: expected \"short\", \"open\", \"unplug\", \"noise\", \"brown_out\", \"slow_sensor\", \"pull_up\" \
           or \"bit_errors\", found \"everything\"",
        ],
    );
    rejects(
        "measure = { doubt = [] }",
        &["day.toml:4:21: expected one or a list of the doubts \"power-on value\", \"no conversion\", \
        \"undefined bits\", \"reserved bytes\", \"out of range\" or \"shared family\", found an empty list"],
    );
}

#[test]
fn rejects_expectations_of_a_number_beside_a_failure() {
    let rule = "expected nothing else of a measurement that fails";
    for (other, written) in [
        ("doubt", "doubt = \"out of range\""),
        ("near", "near = { reference = \"rig\", within = \"1 K\" }"),
        ("agree", "agree = \"1 K\""),
        ("published", "published = true"),
        ("quantised", "quantised = true"),
        ("in_time", "in_time = true"),
    ] {
        let step = format!("[step.measure]\nfails = \"crc\"\n{written}");
        rejects(&step, &[&format!("day.toml:6:1: {rule}, found both {other} and fails")]);
        assert_eq!(second_place(&step), "fails");
    }
}

#[test]
fn rejects_what_needs_a_conversion_without_one() {
    rejects(
        "[step.measure]\nconvert = \"not\"\nin_time = true\ndoubt = \"no conversion\"",
        &["day.toml:6:1: expected a conversion where its time counts, found both in_time and convert"],
    );
    rejects(
        "measure = { convert = \"not\" }",
        &["day.toml:4:23: expected doubt or fails beside a reading without conversion, found neither"],
    );
    assert_eq!(hint("measure = { convert = \"not\" }"), "add doubt = \"no conversion\"");
    rejects(
        "measure = { doubt = \"no conversion\" }",
        &["day.toml:4:21: expected convert = \"not\" for the doubt \"no conversion\", found a conversion"],
    );
    assert_eq!(second_place("measure = { convert = \"together\", doubt = \"no conversion\" }"), "\"together\"");
}

#[test]
fn rejects_agreement_of_one_sensor() {
    let step = "measure = { sensors = \"door\", agree = \"1 degC\" }";
    rejects(step, &["day.toml:4:31: expected two sensors or more to agree, found one"]);
    assert_eq!(second_place(step), "\"door\"");
}

#[test]
fn rejects_references_that_are_none() {
    rejects(
        "measure = { near = { reference = \"rigg\", within = \"1 K\" } }",
        &["day.toml:4:34: expected a temperature such as \"12.5 degC\", \"rig\" or { sensor = \"a label\" }, \
           found \"rigg\", which does not begin with a number"],
    );
    rejects(
        "measure = { near = { within = \"1 K\" } }",
        &[
            "day.toml:4:20: expected the key reference in near, such as reference = { sensor = \"a label\" }, found none",
        ],
    );
    rejects(
        "measure = { near = { reference = \"500 degC\", within = \"1 K\" } }",
        &["day.toml:4:34: expected a temperature from -55 degC to 125 degC, \"rig\" or { sensor = \"a label\" }, \
           found \"500 degC\""],
    );
    rejects(
        "measure = { sensors = [\"upper shelf\", \"lower shelf\"], near = { reference = { sensor = \"door\" }, within = \"1 K\" } }",
        &["day.toml:4:76: expected a reference that is measured in the same step, found one that is not"],
    );
    rejects(
        "measure = { sensors = \"door\", near = { reference = { sensor = \"door\" }, within = \"1 K\" } }",
        &["day.toml:4:52: expected another sensor beside the reference, found the reference alone"],
    );
    rejects("measure = { near = [] }", &["day.toml:4:20: expected 1 to 20 tables, found 0"]);
}

#[test]
fn rejects_settings_that_cannot_be() {
    rejects(
        "configure = { sensors = \"door\", resolution = 9 }",
        &["day.toml:4:33: expected at least one sensor that has a resolution, found only DS18S20 sensors (door)"],
    );
    assert_eq!(second_place("configure = { sensors = \"door\", resolution = 9 }"), "\"door\"");
    rejects(
        "configure = { resolution = \"12 bit\" }",
        &["day.toml:4:28: expected a whole number from 9 to 12, found \"12 bit\""],
    );
    rejects(
        "configure = { alarm = { low = \"16 degC\", high = \"2 degC\" } }",
        &["day.toml:4:31: expected low below high, found 16 degC and 2 degC"],
    );
    assert_eq!(second_place("configure = { alarm = { low = \"16 degC\", high = \"2 degC\" } }"), "\"2 degC\"");
    rejects(
        "configure = { alarm = { low = \"2 degC\", high = \"2 degC\" } }",
        &["day.toml:4:31: expected low below high, found 2 degC and 2 degC"],
    );
    rejects(
        "configure = { alarm = { low = \"2.5 degC\" } }",
        &[
            "day.toml:4:23: expected the key high in alarm, such as high = \"125 degC\", found none",
            "day.toml:4:31: expected a temperature in steps of 1 degC, found \"2.5 degC\"",
        ],
    );
    rejects(
        "configure = {}",
        &["day.toml:4:13: expected something to configure: resolution, alarm or save, found nothing"],
    );
    rejects(
        r#"find = { expect = "all", fails = "nobody" }"#,
        &["day.toml:4:26: expected either expect or fails, found both"],
    );
}

#[test]
fn rejects_faults_that_are_none_or_two() {
    rejects(
        "inject = {}",
        &[
            "day.toml:4:10: expected one fault to inject: short, open, unplug, noise, brown_out, slow_sensor, pull_up or \
           bit_errors, found none",
        ],
    );
    rejects(
        "inject = { short = \"1 ohm\", unplug = \"door\" }",
        &["day.toml:4:29: expected one fault in a step, found short and unplug"],
    );
    assert_eq!(second_place("inject = { short = \"1 ohm\", unplug = \"door\" }"), "short");
    rejects(
        "inject = { brown_out = { to = \"4 V\", lasts = \"1 s\" } }",
        &["day.toml:4:31: expected a dip below the supply of the rig, 3300 mV, found 4000 mV"],
    );
    rejects(
        "clear = \"short\"",
        &["day.toml:3:1: expected a step that injects short, for this one to clear, found none in the file"],
    );
}

#[test]
fn rejects_repetitions_without_an_end() {
    let rule = "expected one of the keys times and lasts in [step.repeat], found none";
    rejects("repeat = { step = [{ find = {} }] }", &[&format!("day.toml:4:10: {rule}")]);
    rejects(
        "repeat = { times = 2, lasts = \"1 h\", step = [{ find = {} }] }",
        &["day.toml:4:23: expected either times or lasts, found both"],
    );
    assert_eq!(second_place("repeat = { times = 2, lasts = \"1 h\", step = [{ find = {} }] }"), "times");
    rejects(
        "repeat = { lasts = \"1 h\", step = [{ ambient = { to = \"1 degC\" } }] }",
        &["day.toml:4:12: expected a repeated step that takes time, found none"],
    );
    rejects(
        "repeat = { times = 100001, step = [{ find = {} }] }",
        &["day.toml:4:20: expected a whole number from 1 to 100000, found the number 100001"],
    );
    rejects(
        "repeat = { times = 1, may_fail = \"100 %\", step = [{ find = {} }] }",
        &["day.toml:4:34: expected a share from 0 % to 99 %, found \"100 %\""],
    );
    rejects(
        "repeat = { times = 1 }",
        &["day.toml:4:10: expected the key step in [step.repeat], such as [[step.repeat.step]], found none"],
    );
}

#[test]
fn reports_all_problems_of_a_file() {
    rejects_file(
        "scenario = 1\n[[step]]\nwait = \"5\"\n[[step]]\nfind = { times = \"3\" }\n[[step]]\nmeasure = { sensors = \"cat\", agree = 1 }\n",
        &[
            "day.toml:1:12: expected a name of 1 to 60 printable characters in quotes, found the number 1",
            "day.toml:3:8: expected a time such as \"750 ms\", found \"5\", a number without a unit",
            "day.toml:5:18: expected a whole number from 1 to 1000, found \"3\"",
            "day.toml:7:23: expected the label of a sensor of the rig \"shed\", found \"cat\"",
            "day.toml:7:38: expected a temperature difference such as \"0.5 degC\", found the number 1",
        ],
    );
}

#[test]
fn reads_files_and_says_which_one_is_bad() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.toml");
    std::fs::write(&path, "scenario = \"a day\"\n[[step]]\nfind = {}\n").unwrap();
    let source = Scenario::load(&path, &rig()).unwrap().source;
    assert_eq!(source, path.display().to_string());
    std::fs::write(&path, "scenario = \"a day\"\n[[step]]\nwait = \"3 V\"\n").unwrap();
    let message = format!("{}:3:8: expected a time such as \"750 ms\", found \"3 V\", a voltage", path.display());
    assert_eq!(Scenario::load(&path, &rig()).unwrap_err().to_string(), message);
    std::fs::write(&path, b"scenario = \"\xC3\x28\"\n").unwrap();
    let message = format!("{}:1:13: expected UTF-8 text, found byte C3h at offset 12", path.display());
    assert_eq!(Scenario::load(&path, &rig()).unwrap_err().to_string(), message);
}
