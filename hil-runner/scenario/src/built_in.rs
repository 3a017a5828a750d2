//! The scenarios that the program carries with it.

use super::Scenario;
use slotwise_rig::Rig;
use slotwise_terms::built_in::{BuiltIn, source};
use slotwise_terms::input::InputErrors;

/// The default one first.
const FILES: BuiltIn<8> = BuiltIn([
    ("cellar", include_str!("../../../fixtures/scenarios/cellar.toml")),
    ("faults", include_str!("../../../fixtures/scenarios/faults.toml")),
    ("soak", include_str!("../../../fixtures/scenarios/soak.toml")),
    ("parasite", include_str!("../../../fixtures/scenarios/parasite.toml")),
    ("parasite-bare", include_str!("../../../fixtures/scenarios/parasite-bare.toml")),
    ("ice-point", include_str!("../../../fixtures/scenarios/ice-point.toml")),
    ("steam-point", include_str!("../../../fixtures/scenarios/steam-point.toml")),
    ("twins", include_str!("../../../fixtures/scenarios/twins.toml")),
]);

/// Names of the built-in scenarios, the default one first. A scenario is for the
/// built-in rig of the same name, if there is one, and else for the rig `cellar`.
pub const BUILT_IN_SCENARIOS: [&str; 8] = FILES.names();

/// A built-in scenario on a rig, if there is one of this name. It is an error if it names sensors that the rig lacks.
#[must_use]
pub fn built_in_scenario(name: &str, rig: &Rig) -> Option<Result<Scenario, InputErrors>> {
    let text = FILES.text(name)?;
    Some(Scenario::parse(&source(name), text, rig))
}

/// The text of a built-in scenario, as a start for one's own.
#[must_use]
pub fn built_in_scenario_text(name: &str) -> Option<&'static str> {
    FILES.text(name)
}
