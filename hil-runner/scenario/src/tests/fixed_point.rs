//! Checks at fixed points and corrected numbers, in good files and bad ones.

use super::super::*;
use super::bad::{file, rejects};
use super::rig;
use slotwise_rig::{Rig, built_in_rig};
use slotwise_terms::fixed_point::{FixedPoint, STEAM};

#[track_caller]
fn parse(text: &str) -> Scenario {
    Scenario::parse("day.toml", text, &rig()).map_err(|errors| panic!("{errors}")).unwrap()
}

#[track_caller]
fn check(keys: &str) -> FixedPointCheck {
    match parse(&file(&format!("fixed_point = {{ {keys} }}"))).steps.swap_remove(0).action {
        Action::FixedPoint(check) => check,
        other => panic!("{other:?}"),
    }
}

#[track_caller]
fn hint(keys: &str) -> String {
    let text = file(&format!("fixed_point = {{ {keys} }}"));
    let errors = Scenario::parse("day.toml", &text, &rig()).expect_err("the file is bad");
    assert_eq!(errors.problems().len(), 1, "{errors}");
    errors.problems()[0].hint().expect("there is a hint").to_owned()
}

#[test]
fn reads_fixed_points() {
    let ice = FixedPointCheck {
        sensors: vec![0, 1, 2],
        at: FixedPoint::IcePoint,
        stable_within_millicelsius: 200,
        stable_for_ms: 120_000,
        give_up_ms: 1_800_000,
        within_millicelsius: None,
    };
    assert_eq!(check("at = \"ice point\""), ice);
    let steam = FixedPointCheck {
        sensors: vec![2],
        at: FixedPoint::SteamPoint { pressure_pa: 99_530 },
        stable_within_millicelsius: 100,
        stable_for_ms: 60_000,
        give_up_ms: 600_000,
        within_millicelsius: Some(250),
    };
    let keys = "at = \"steam point\", pressure = \"995.3 hPa\", sensors = \"door\", stable_within = \"0.1 degC\", \
                for = \"1 min\", give_up_after = \"10 min\", within = \"0.25 degC\"";
    assert_eq!(check(keys), steam);
    let labels: Vec<String> = ["at = \"ice point\"", keys]
        .map(|keys| parse(&file(&format!("fixed_point = {{ {keys} }}"))).steps[0].label.clone())
        .into();
    assert_eq!(labels, ["all at the ice point", "door at the steam point at 995.3 hPa"]);
}

#[test]
fn the_steam_point_needs_the_pressure_of_the_place() {
    rejects(
        "fixed_point = { at = \"steam point\" }",
        &["day.toml:4:15: expected the key pressure at the steam point, such as pressure = \"1002 hPa\", found none"],
    );
    rejects(
        "fixed_point = { at = \"steam point\", pressure = \"312 m\" }",
        &["day.toml:4:48: expected a pressure such as \"1002 hPa\", found \"312 m\", a length"],
    );
    for absurd in ["1013 Pa", "101325 hPa", "400 hPa", "0 hPa"] {
        let message = format!("day.toml:4:48: expected a pressure from 500 hPa to 1100 hPa, found \"{absurd}\"");
        rejects(&format!("fixed_point = {{ at = \"steam point\", pressure = \"{absurd}\" }}"), &[&message]);
    }
    assert!(hint("at = \"steam point\"").starts_with("Station pressure"));
    for wrong in ["312 m", "101325 hPa"] {
        let hint = hint(&format!("at = \"steam point\", pressure = \"{wrong}\""));
        assert!(hint.contains("reduced to sea level") && hint.contains("altitude alone does not tell it"), "{hint}");
    }
    rejects(
        "fixed_point = { at = \"ice point\", pressure = \"1002 hPa\" }",
        &["day.toml:4:35: expected no pressure at the ice point, found one"],
    );
}

#[test]
fn rejects_baths_that_could_never_be_stable() {
    rejects(
        "fixed_point = { at = \"ice point\", for = \"10 min\", give_up_after = \"10 min\" }",
        &["day.toml:4:67: expected give_up_after longer than for, found no longer"],
    );
    rejects(
        "fixed_point = { at = \"ice point\", stable_within = \"0.06 degC\" }",
        &["day.toml:4:51: expected a temperature difference from 0.07 degC to 2 degC, found \"0.06 degC\""],
    );
}

#[test]
fn a_part_that_is_not_made_for_steam_stays_outside() {
    let cellar = built_in_rig("cellar").unwrap();
    let steam = |sensors: &str| {
        let step = format!("fixed_point = {{ at = \"steam point\", pressure = \"1002 hPa\"{sensors} }}");
        Scenario::parse("day.toml", &file(&step), &cellar)
    };
    let errors = steam("").unwrap_err();
    assert_eq!(
        errors.to_string(),
        "day.toml:4:15: expected parts that are made for 99.662 degC, the steam point at 1002 hPa, found others: \
         \"air return\" (DS28EA00)"
    );
    assert!(steam(", sensors = { except = \"air return\" }").is_ok());
}

#[test]
fn a_scenario_with_steam_has_a_caution_of_its_own_or_ours() {
    let step = "[[step]]\nfixed_point = { at = \"steam point\", pressure = \"1002 hPa\" }\n";
    let repeated = format!("[[step]]\n[step.repeat]\ntimes = 2\n{}", step.replace("[[step]]", "[[step.repeat.step]]"));
    for steps in [step, &repeated] {
        assert_eq!(parse(&format!("scenario = \"a day\"\n{steps}")).cautions, [STEAM]);
        let own = format!("scenario = \"a day\"\ncautions = [\"mind the steam\"]\n{steps}");
        assert_eq!(parse(&own).cautions, ["mind the steam"]);
    }
    assert!(parse(&file("fixed_point = { at = \"ice point\" }")).cautions.is_empty());
}

/// The rig of these tests, with a correction for the upper shelf.
fn corrected() -> Rig {
    let mut rig = rig();
    rig.inventory[0].correction = Some(slotwise_rig::Correction { millicelsius: -80, at: None, on: None });
    rig
}

#[test]
fn corrected_numbers_need_a_correction_of_each_sensor() {
    let text = |sensors: &str| file(&format!("measure = {{ sensors = {sensors}, corrected = true }}"));
    let scenario = Scenario::parse("day.toml", &text("\"upper shelf\""), &corrected()).unwrap();
    let Action::Measure(measure) = &scenario.steps[0].action else { panic!("a measurement") };
    assert_eq!(measure.values, Values::Corrected);
    let errors = Scenario::parse("day.toml", &text("\"all\""), &corrected()).unwrap_err();
    assert_eq!(
        errors.to_string(),
        "day.toml:4:30: expected a correction in the rig file of \"shed\" for each sensor, found none for \"lower shelf\" and \
         \"door\""
    );
    rejects(
        "measure = { fails = \"crc\", corrected = false }\n[[step]]\nmeasure = { convert = \"not\", doubt = \"no conversion\", corrected = 1 }",
        &["day.toml:6:67: expected true or false, found the number 1"],
    );
}

#[test]
fn work_at_a_fixed_point_counts_all_the_rounds_there_is_time_for() {
    // 4 h of rounds each second, of three sensors and a conversion: 86 412 readings; 24 times that is too much.
    let long = "fixed_point = { at = \"ice point\", for = \"10 s\", give_up_after = \"4 h\" }";
    let times = |times: u32| {
        let text =
            format!("scenario = \"a day\"\n[[step]]\n[step.repeat]\ntimes = {times}\n[[step.repeat.step]]\n{long}\n");
        Scenario::parse("day.toml", &text, &rig()).map(|_| ()).map_err(|errors| errors.to_string())
    };
    assert_eq!(times(23), Ok(()));
    assert!(times(24).unwrap_err().contains("expected work for at most 2000000 readings"), "{:?}", times(24));
}
