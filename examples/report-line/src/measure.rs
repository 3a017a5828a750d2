//! One look at all sensors of a line: found, converted together, read, and a line for each.

use slotwise::Error;
use slotwise::bus::{Bus, Roster, SearchScope};
use slotwise::line::Line;
use slotwise::thermometer::{CONVERSION_MAX_US, Round, Thermometer};

use crate::{Lines, ReportLine};

/// Sensors on one line.
pub const SENSORS: usize = 16;

/// Finds all sensors, which have a supply of their own, has them convert together, and hands over a line for each.
///
/// # Errors
/// What keeps the whole bus from being used. A sensor that cannot be read has a line of its own.
pub fn measure_together<L: Line>(
    bus: &mut Bus<L>,
    lines: &mut Lines,
    mut send: impl FnMut(ReportLine),
) -> Result<(), Error<L::Error>> {
    let mut roster = Roster::<SENSORS>::new();
    bus.find(&mut roster, SearchScope::All)?;
    // Each is addressed alone and seen to start: one command to all would show only the slowest.
    let round = Round::begin(bus);
    let mut started = heapless::Vec::<_, SENSORS>::new();
    for &rom in roster.iter() {
        match round.start(bus, rom) {
            Ok(sensor) => started.extend([sensor]),
            Err(error) => send(lines.failure(rom, error)),
        }
    }
    let over = round.wait(bus, CONVERSION_MAX_US)?;
    for sensor in started {
        let rom = sensor.rom();
        // Devices that are not thermometers are on the roster too; they have not started.
        let Ok(thermometer) = Thermometer::new(rom) else { continue };
        send(match thermometer.read(bus, &over.receipt(sensor)) {
            Ok(reading) => lines.reading(rom, &reading),
            Err(error) => lines.failure(rom, error),
        });
    }
    Ok(())
}
