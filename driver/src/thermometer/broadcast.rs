//! Settings for all sensors at once: one Write Scratchpad behind a Skip ROM, then each sensor is read back.

use super::{Settings, Thermometer};
use crate::bus::{Bus, RomCode, Target};
use crate::error::Error;
use crate::line::Line;

/// Writes `settings` to every sensor on the line by one command, and returns an iterator that reads the sensors of `roster` back, one
/// per step. Take all steps: a sensor that missed the command shows in no other way. To one that failed,
/// [`Thermometer::write`] can be tried again.
///
/// The command reaches **everything** on the line, so `roster` must list all that is there, as [`Bus::find`] does. Against one
/// [`Thermometer::write`] for each of n sensors this saves n - 1 writes. As there, the settings last until power-down.
///
/// ```
/// # use slotwise::bus::{Bus, RomCode, Roster, SearchScope};
/// # use slotwise::line::Line;
/// # use slotwise::thermometer::{Settings, write_all};
/// # fn example<L: Line<Error: 'static>>(bus: &mut Bus<L>, settings: Settings) -> Result<(), Box<dyn std::error::Error>> {
/// let mut roster = Roster::<16>::new();
/// bus.find(&mut roster, SearchScope::All)?;
/// for (rom, outcome) in write_all(bus, &roster, settings)? {
///     if let Err(error) = outcome {
///         println!("{rom}: {error}");
///     }
/// }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
/// [`Error::WrongSettings`] if one command cannot serve all of `roster`, as families with and without resolution have commands of
/// different lengths; [`Error::Family`] if a device on it is no thermometer, which may have a meaning of its own for the command.
/// Nothing is written then. Otherwise as [`Bus::transact`].
pub fn write_all<'a, L: Line>(
    bus: &'a mut Bus<L>,
    roster: &'a [RomCode],
    settings: Settings,
) -> Result<ReadBack<'a, L>, Error<L::Error>> {
    let mut first = None;
    for rom in roster {
        let family = Thermometer::new(*rom)?.family();
        if family.has_resolution() != settings.resolution.is_some() {
            return Err(Error::WrongSettings);
        }
        first = first.or(Some(family));
    }
    // The bits in which their configurations differ cannot be written (DS18B20 datasheet (7/19), Configuration Register;
    // DS1825 datasheet, p. 8: they follow the address pins), so any of the families stands for all.
    if let Some(family) = first {
        let command = settings.write_command(family);
        bus.transact(Target::All, &command, &mut [])?;
    }
    Ok(ReadBack { bus, left: roster.iter(), wrote: settings })
}

/// Reads back what [`write_all`] wrote: a sensor, and whether it holds the settings, per step.
#[derive(Debug)]
#[must_use = "a sensor that missed the command shows only when it is read back"]
pub struct ReadBack<'a, L> {
    bus: &'a mut Bus<L>,
    left: core::slice::Iter<'a, RomCode>,
    wrote: Settings,
}

impl<L: Line> Iterator for ReadBack<'_, L> {
    type Item = (RomCode, Result<(), Error<L::Error>>);

    fn next(&mut self) -> Option<Self::Item> {
        // Those of another family were refused, so none is passed over.
        let thermometer = self.left.find_map(|rom| Thermometer::new(*rom).ok())?;
        Some((thermometer.rom(), thermometer.verify(self.bus, self.wrote)))
    }
}

impl<L: Line> core::iter::FusedIterator for ReadBack<'_, L> {}
