//! A transaction in one line. And what the driver makes of them.

use crate::TextLook;
use crate::look::Ink;
use slotwise::bus::RomCode;
use slotwise::thermometer::{Family, Scratchpad};
use slotwise_terms::units::{count, counted, exact_time, moment};
use slotwise_waveform::decode::{
    Addressing, Bytes, Phase, READ_SCRATCHPAD, SearchEnd, Speed, Transaction, Triplet, chosen_rom, function_name,
    rom_command_name,
};
use slotwise_waveform::replay::{Played, ReplayReport, Standing};
use slotwise_waveform::timing::signed;

/// A transaction in one line: `0.147187 s  reset 493 us, presence 121 us after 27 us; Match ROM 28:...; ...`.
#[must_use]
pub fn transaction_line(transaction: &Transaction) -> String {
    let mut parts = vec![reset(transaction)];
    let mut family = None;
    let mut before = None;
    for phase in &transaction.phases {
        match phase {
            Phase::RomWritten { bytes } | Phase::RomAnswered { bytes } => {
                family = rom(bytes).and_then(Family::of);
                join(&mut parts, &rom_text(bytes));
            }
            Phase::Search { triplets, end } => join(&mut parts, &search(triplets, *end)),
            Phase::RomCommand { code, .. } => {
                parts.push(rom_command_name(*code).map_or_else(|| format!("{code:02X}h?"), str::to_owned));
            }
            Phase::Function { code, addressing, .. } => {
                before = Some(*code);
                parts.push(function(*code, *addressing));
            }
            Phase::Foreign { bytes, more } => join(&mut parts, &format!("(no thermometer) {}", data(bytes, *more))),
            Phase::Written { bytes, more } => join(&mut parts, &data(bytes, *more)),
            Phase::Answered { bytes, more } => {
                join(&mut parts, &format!("-> {}{}", data(bytes, *more), meaning(bytes, before, family)));
            }
            Phase::Polled { zeros, ones, .. } => join(&mut parts, &format!("-> {zeros} x 0, {ones} x 1")),
            Phase::ReadOn { bytes } => join(&mut parts, &format!("and {} of ones", counted(*bytes, "byte"))),
        }
    }
    if transaction.open_bits > 0 {
        parts.push(count(transaction.open_bits.into(), "bit"));
    }
    if transaction.broken_off {
        parts.push("broken off".into());
    }
    if transaction.cut {
        parts.push("and so on".into());
    }
    format!("{:>14}  {}", moment_short(transaction.at_ns), parts.join("; "))
}

/// To the microsecond, as far as most captures go.
pub(super) fn moment_short(ns: u64) -> String {
    let text = moment(ns / 1_000 * 1_000);
    text.replacen("000 s", " s", 1)
}

fn reset(transaction: &Transaction) -> String {
    let speed = match transaction.speed {
        Speed::Standard => "",
        Speed::Overdrive => "overdrive ",
    };
    let low = exact_time(signed(transaction.reset.low_ns));
    let presence = transaction.reset.presence.map_or_else(
        || "no presence".to_owned(),
        |presence| {
            let (low, after) = (exact_time(signed(presence.low_ns)), exact_time(signed(presence.after_ns)));
            format!("presence {low} after {after}")
        },
    );
    format!("{speed}reset {low}, {presence}")
}

fn join(parts: &mut [String], text: &str) {
    if let Some(last) = parts.last_mut() {
        last.push(' ');
        last.push_str(text);
    }
}

fn rom(bytes: &Bytes) -> Option<RomCode> {
    <[u8; 8]>::try_from(bytes.0.as_slice()).ok().and_then(|bytes| RomCode::new(bytes).ok())
}

fn rom_text(bytes: &Bytes) -> String {
    rom(bytes).map_or_else(|| format!("{bytes} (no ROM code)"), |rom| rom.to_string())
}

fn search(triplets: &[Triplet], end: SearchEnd) -> String {
    let conflicts = triplets.iter().filter(|triplet| !triplet.bit && !triplet.complement).count();
    match end {
        SearchEnd::Whole => {
            let bytes = chosen_rom(triplets).to_vec();
            format!("{}, {}", rom_text(&Bytes(bytes)), count(conflicts, "conflict"))
        }
        SearchEnd::Silent => format!("no sensor from bit {} on", triplets.len()),
        SearchEnd::BrokenOff => format!("broken off after {}", count(triplets.len(), "bit")),
    }
}

fn function(code: u8, addressing: Addressing) -> String {
    let name = function_name(code).map_or_else(|| format!("{code:02X}h?"), str::to_owned);
    match addressing {
        Addressing::RomCommand => name,
        Addressing::Search => format!("{name} (right after a search)"),
        Addressing::ResetOnly => format!("{name} (no ROM command!)"),
        Addressing::Function => format!("{name} (no reset!)"),
    }
}

fn data(bytes: &Bytes, more: u64) -> String {
    if more == 0 { bytes.to_string() } else { format!("{bytes} and {more} more") }
}

/// What a scratchpad says.
fn meaning(bytes: &Bytes, before: Option<u8>, family: Option<Family>) -> String {
    let Ok(nine) = <[u8; 9]>::try_from(bytes.0.as_slice()) else { return String::new() };
    if before != Some(READ_SCRATCHPAD) {
        return String::new();
    }
    match (Scratchpad::new(nine), family) {
        (Err(error), _) => format!(" ({error})"),
        (Ok(_), None) => " (CRC right)".into(),
        (Ok(scratchpad), Some(family)) => match scratchpad.decode(family) {
            Ok(decoded) => format!(" ({} degC)", decoded.temperature),
            Err(error) => format!(" ({error})"),
        },
    }
}

/// What was played, in one line.
#[must_use]
pub fn played_line(played: &Played) -> String {
    let Played { at_ns, what, captured, driver, standing } = played;
    let verdict = match standing {
        Standing::Same => Ink::Good.on("same"),
        Standing::Different => Ink::Bad.on("DIFFERENT"),
    };
    format!("{:>14}  {what}: driver {driver}; captured {captured}: {verdict}", moment_short(*at_ns))
}

/// All of it in one line.
pub(super) fn replay_line(look: &TextLook, replay: &ReplayReport) -> String {
    let searches = if replay.searches == 1 { "1 search".into() } else { format!("{} searches", replay.searches) };
    let played = format!("{searches} and {} played to the driver", counted(replay.readings, "reading"));
    let not = match replay.not_played {
        0 => String::new(),
        number => format!(
            "; {number} not: not addressed by ROM code, cut short, unanswered, or in another order than its own"
        ),
    };
    let different = match replay.different {
        0 => Ink::Good.on("it makes the same of all of them"),
        number => Ink::Bad.on(format!("it makes something else of {number}")),
    };
    look.wrap("replay   ", &format!("{played}: {different}{not}"))
}
