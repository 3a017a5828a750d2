//! What somebody must know before a hand goes to a sensor.

/// Before the first sensor is taken.
pub const HAND: &str = "Touch a sensor only where that is safe: nothing on the mains or opened up, nothing hot or very cold, nothing that \
     rotates or moves, no food without clean hands. Where a hand cannot go, warm or cool another way, or leave the sensor out. Follow \
     local codes and licensed practice.";
