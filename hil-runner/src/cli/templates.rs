//! The templates that `hil-runner new` writes: files that the tests run, and what is built in.

use slotwise_rig::{BUILT_IN_RIGS, built_in_rig_text};
use slotwise_scenario::{BUILT_IN_SCENARIOS, built_in_scenario_text};

/// Kind, text and what is made of the text, of each sort of template; the kind that is meant without a word comes
/// first.
type Kind = (&'static str, &'static str, Make);

const RIGS: [Kind; 5] = [
    ("virtual", include_str!("../../../fixtures/rigs/cellar.toml"), Make::AsItIs),
    ("emulated", include_str!("../../../fixtures/rigs/cellar.toml"), Make::Emulated),
    ("bridge", include_str!("../../../fixtures/rigs/bench.toml"), Make::WithoutSensors),
    ("serial", include_str!("../../../fixtures/rigs/serial.toml"), Make::WithoutSensors),
    ("unnamed", include_str!("../../../fixtures/rigs/unnamed.toml"), Make::AsItIs),
];
const SCENARIOS: [Kind; 1] = [("first-look", include_str!("../../../fixtures/scenarios/bench.toml"), Make::AsItIs)];
const PLANS: [Kind; 1] = [("nightly", include_str!("../../../examples/nightly/plan.toml"), Make::AsItIs)];
const SERVICES: [Kind; 3] = [
    ("service", include_str!("../../../examples/nightly/slotwise-nightly.service"), Make::AsItIs),
    ("timer", include_str!("../../../examples/nightly/slotwise-nightly.timer"), Make::AsItIs),
    ("ci-job", include_str!("../../../examples/nightly/ci-job.sh"), Make::AsItIs),
];

/// What is made of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Make {
    AsItIs,
    /// A virtual rig, with the real firmware on an emulated chip.
    Emulated,
    /// A real rig whose sensors are not known yet: those of the file are comments.
    WithoutSensors,
}

/// One template.
#[derive(Clone, Copy, Debug)]
pub(super) struct Template {
    what: &'static str,
    kind: &'static str,
    text: &'static str,
    make: Make,
}

/// The text of what is built in under a name.
type BuiltIn = fn(&str) -> Option<&'static str>;

/// The template of this kind; without a kind the one that is meant.
pub(super) fn find(what: &str, kind: Option<&str>) -> Option<Template> {
    let (what, kinds, built_in): (_, &[Kind], BuiltIn) = match what {
        "rig" => ("rig", &RIGS, built_in_rig_text),
        "scenario" => ("scenario", &SCENARIOS, built_in_scenario_text),
        "plan" => ("plan", &PLANS, |_| None),
        _ => ("night-service", &SERVICES, |_| None),
    };
    let of = |(kind, text, make): Kind| Template { what, kind, text, make };
    let Some(kind) = kind else { return kinds.first().copied().map(of) };
    let own = kinds.iter().copied().find(|(known, ..)| *known == kind).map(of);
    own.or_else(|| Some(Template { what, kind: "built in", text: built_in(kind)?, make: Make::AsItIs }))
}

impl Template {
    /// Kinds that can be asked for.
    pub(super) fn kinds(what: &str) -> Vec<&'static str> {
        let names = |kinds: &[Kind]| kinds.iter().map(|(kind, ..)| *kind).collect::<Vec<_>>();
        match what {
            "rig" => [names(&RIGS), BUILT_IN_RIGS.to_vec()].concat(),
            "scenario" => [names(&SCENARIOS), BUILT_IN_SCENARIOS.to_vec()].concat(),
            "plan" => names(&PLANS),
            _ => names(&SERVICES),
        }
    }

    /// Its text.
    pub(super) fn text(&self) -> String {
        match self.make {
            Make::AsItIs => self.text.to_owned(),
            Make::Emulated => {
                let text = self.text.replacen(
                    "in virtual time",
                    "in virtual time, behind an emulated chip that runs the real firmware",
                    1,
                );
                text.replacen(
                    "kind = \"virtual\"",
                    "kind = \"emulated\"        # clock = \"8 MHz\" is the chip without its crystal",
                    1,
                )
            }
            Make::WithoutSensors => {
                let (head, sensors) = self.text.split_once("[[sensor]]").unwrap_or((self.text, ""));
                let sensors: String = format!("[[sensor]]{sensors}").lines().map(commented).collect();
                format!("{head}{sensors}")
            }
        }
    }

    /// What to do with a file of it.
    pub(super) fn next(&self, file: &str) -> String {
        match (self.what, self.kind) {
            ("rig", "unnamed") => format!("hil-runner identify --rig {file} --rename"),
            ("rig", _) => format!("hil-runner scan --rig {file} (its keys: hil-runner help rig)"),
            ("scenario", _) => format!("hil-runner run {file} --rig FILE (its keys: hil-runner help scenario)"),
            ("plan", _) => format!("hil-runner nightly {file} --check (its keys: hil-runner help plan)"),
            _ => "the steps in its first lines (more: hil-runner help nights)".into(),
        }
    }
}

fn commented(line: &str) -> String {
    if line.is_empty() { "\n".into() } else { format!("# {line}\n") }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use slotwise_history::nightly::Plan;
    use slotwise_rig::{Rig, RigKind};
    use slotwise_scenario::Scenario;

    #[test]
    fn every_rig_is_one_of_its_kind() {
        for kind in Template::kinds("rig") {
            let text = find("rig", Some(kind)).unwrap().text();
            match kind {
                "bridge" | "serial" => {
                    let errors = Rig::parse("rig.toml", &text).unwrap_err().to_string();
                    assert!(errors.contains("expected the key sensor") && errors.lines().count() == 1, "{errors}");
                    let filled =
                        text.replace("# [[sensor]]", "[[sensor]]").replace("# label", "label").replace("# rom", "rom");
                    let rig = Rig::parse("rig.toml", &filled).unwrap();
                    assert_eq!(matches!(rig.kind, RigKind::Bridge(_)), kind == "bridge");
                    assert_eq!(matches!(rig.kind, RigKind::Serial(_)), kind == "serial");
                }
                _ => {
                    let rig = Rig::parse("rig.toml", &text).map_err(|errors| format!("{kind}: {errors}")).unwrap();
                    assert_eq!(matches!(rig.kind, RigKind::Emulated(_)), kind == "emulated", "{kind}");
                }
            }
        }
    }

    #[test]
    fn every_scenario_suits_its_rig_and_the_plan_is_one() {
        for kind in Template::kinds("scenario") {
            let text = find("scenario", Some(kind)).unwrap().text();
            let rig = slotwise_rig::built_in_rig(kind).or_else(|| slotwise_rig::built_in_rig("cellar")).unwrap();
            Scenario::parse("scenario.toml", &text, &rig).map_err(|errors| format!("{kind}: {errors}")).unwrap();
        }
        assert!(Plan::parse("plan.toml", &find("plan", None).unwrap().text(), Path::new(".")).is_ok());
    }

    #[test]
    fn commented_parts_of_the_first_look_template_are_valid_too() {
        let rig = slotwise_rig::built_in_rig("cellar").unwrap();
        let text = find("scenario", None).unwrap().text().replace("a label", "door");
        let (head, steps) = text.split_once("[[step]]").unwrap();
        let is_step = |line: &&str| {
            ["[[", "label =", "measure =", "fixed_point =", "inject =", "find =", "clear ="]
                .iter()
                .any(|key| line.starts_with(key))
        };
        let steps: Vec<&str> =
            steps.lines().map(|line| line.strip_prefix("# ").filter(is_step).unwrap_or(line)).collect();
        let scenario = Scenario::parse("scenario.toml", &format!("{head}[[step]]{}", steps.join("\n")), &rig);
        assert_eq!(scenario.map_err(|errors| errors.to_string()).unwrap().steps.len(), 11);
    }

    #[test]
    fn every_kind_is_in_the_lists_and_no_other() {
        for what in ["rig", "scenario", "plan", "night-service"] {
            assert!(Template::kinds(what).iter().all(|kind| find(what, Some(kind)).is_some()), "{what}");
            assert!(find(what, Some("nothing")).is_none());
        }
    }
}
