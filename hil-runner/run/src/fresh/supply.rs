//! How sensors are powered, by what the rig file says and what they answer.

use slotwise::bus::Target;
use slotwise::thermometer::Supply;

use super::memory::persist;
use slotwise_bench::Bench;
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;

/// So many answers are waited for of which two in a row are the same.
const ANSWERS: u32 = 10;

/// The power mode of `target`. A sensor that the rig file says is on parasite power is treated so whatever it answers: one that has not
/// received the question seems to have a supply of its own, and polled without the strong pull-up it would hold the line low for as long
/// as it converts. An answer that differs from the file, or has none in it, counts when it was given twice.
///
/// # Errors
/// [`Trouble`] if the request fails.
pub fn supply(bench: &mut dyn Bench, rig: &Rig, target: Target) -> Result<Supply, Trouble> {
    let mut listed =
        rig.inventory.iter().filter(|sensor| target == Target::All || target == Target::One(sensor.rom)).peekable();
    let is_listed = listed.peek().is_some();
    if listed.any(|sensor| sensor.supply == Supply::Parasite) {
        return Ok(Supply::Parasite);
    }
    let mut answer = persist(|| bench.supply(target))?;
    if is_listed && answer == Supply::Local {
        return Ok(answer);
    }
    for _ in 1..ANSWERS {
        let again = persist(|| bench.supply(target))?;
        if again == answer {
            return Ok(again);
        }
        answer = again;
    }
    // The strong pull-up harms no sensor that has a supply of its own.
    Ok(Supply::Parasite)
}
