//! Tells what came of a session.

use super::IdentifyArgs;
use super::session::{Halt, Order, Session};
use crate::cli::console::{Console, tell};
use crate::cli::exit::Exit;
use crate::cli::sighting::broken;
use slotwise_record::Head;
use slotwise_record::subject;
use slotwise_rig::Rig;
use slotwise_study::Party;
use slotwise_study::identify::{Ended, Entry, IDENTIFICATION_VERSION, Identification, NotIdentified};
use slotwise_terms::units::count;

pub(super) fn report(
    session: &Session<'_>,
    order: &Order,
    (party, seed): (&Party, u64),
    halt: Option<&Halt>,
) -> Identification {
    let Session { book, identified, renamed, not_identified, .. } = session;
    let mut not_identified = not_identified.clone();
    for label in &order.labels {
        let is_told = identified.iter().any(|known| known.label == *label)
            || not_identified.iter().any(|known| known.label == *label);
        if !is_told {
            let why = "the session ended before".to_owned();
            not_identified.push(NotIdentified { label: label.clone(), why });
        }
    }
    let others = party.members.iter().map(|member| member.sensor.rom);
    let others = others.filter(|rom| !identified.iter().any(|known| known.rom == *rom));
    Identification {
        head: Head::of(IDENTIFICATION_VERSION),
        rig: book.rig().name.clone(),
        file: book.path(),
        seed,
        ended: halt.map_or(Ended::Complete, Halt::ended),
        identified: identified.clone(),
        renamed_as_well: renamed.clone(),
        not_identified,
        others: others.map(|rom| subject(&book.rig().inventory, rom)).collect(),
    }
}

/// Whether all that was asked for is identified.
fn outcome(report: &Identification, labels: &[String]) -> Exit {
    let is_all = if labels.is_empty() { report.others.is_empty() } else { report.not_identified.is_empty() };
    if is_all { Exit::AllMet } else { Exit::NotAllMet }
}

pub(super) fn conclude(
    console: &mut Console,
    args: &IdentifyArgs,
    report: &Identification,
    (rig, halt): (&Rig, Option<Halt>),
) -> Exit {
    let written = report.identified.iter().filter(|identified| identified.file == Entry::Written).count();
    let labels = count(written + report.renamed_as_well.len(), "label");
    let told = if args.json {
        let told = serde_json::to_writer_pretty(&mut *console.out(), report).map_err(std::io::Error::from);
        told.and_then(|()| writeln!(console.out())).map_or_else(|error| console.output_error(&error), |()| Exit::AllMet)
    } else {
        let missing = report.not_identified.iter().map(|missing| format!("{}  not identified", missing.label));
        let lines: Vec<String> = missing
            .chain([format!("{} identified, {labels} written to {}", report.identified.len(), report.file)])
            .collect();
        lines.iter().map(|line| console.line(line)).fold(Exit::AllMet, Exit::max)
    };
    let outcome = outcome(report, &args.labels);
    told.max(match halt {
        None | Some(Halt::ByPerson) => outcome,
        Some(Halt::Interrupted) => {
            tell("interrupted; what was written stays");
            outcome
        }
        Some(Halt::Nobody) => {
            console.error("nobody answers any more; what was written stays");
            outcome
        }
        Some(Halt::Lost) => {
            console.error(format_args!("{} no longer has all that was written to it: run again", report.file));
            Exit::BadInput
        }
        Some(Halt::NotWritten(error)) => {
            console.error(error);
            Exit::BadInput
        }
        Some(Halt::Broken(trouble)) => broken(console, rig, &trouble),
    })
}
