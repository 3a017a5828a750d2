//! What to know before leads go into ice water, hot water or steam.

/// Water is called hot from here on. Chosen: below what scalds in a minute (ISO 13732-1 has some 51 degC, from memory).
pub const HOT_MILLICELSIUS: i32 = 45_000;

/// Before an ice bath.
pub const ICE_BATH: &str = "Only the sealed end of a probe lead goes into water. Keep board, connectors, computer and everything on the \
     mains away from it, and dry your hands.";

/// Before a hot bath.
pub const HOT_WATER: &str = "Hot water scalds: wear gloves and eye protection, keep children and animals away, and let it cool before you \
     move it. A mains-heated kettle brings water and electricity together: let someone trained do it, and follow local codes.";

/// Before steam.
pub const STEAM: &str = "Steam and boiling water scald, and steam is not seen: gloves, eye protection, face and hands out of it; never \
     close the vessel, and let it cool before you move it. A mains-heated kettle brings water and electricity together: let \
     someone trained do it, and follow local codes.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cautions_are_no_longer_than_a_scenario_may_have_them() {
        for caution in [ICE_BATH, HOT_WATER, STEAM] {
            let chars = caution.chars().count();
            assert!(chars <= crate::input::form::MAX_SENTENCE_CHARS, "{chars}: {caution}");
        }
    }
}
