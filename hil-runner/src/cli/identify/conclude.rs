//! The result of a session: the report, the last lines of the terminal and the exit code.

use super::IdentifyArgs;
use super::session::{Halt, Order, Session};
use crate::cli::console::{Console, message};
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
        let is_reported = identified.iter().any(|sensor| sensor.label == *label)
            || not_identified.iter().any(|missing| missing.label == *label);
        if !is_reported {
            let why = "the session ended before its turn".to_owned();
            not_identified.push(NotIdentified { label: label.clone(), why });
        }
    }
    let others = party.members.iter().map(|member| member.sensor.rom);
    let others = others.filter(|rom| !identified.iter().any(|sensor| sensor.rom == *rom));
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

/// Without labels on the command line every sensor of the line has to be identified, else every label.
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
    let output = if args.json {
        let written = serde_json::to_writer_pretty(&mut *console.out(), report).map_err(std::io::Error::from);
        let written = written.and_then(|()| writeln!(console.out()));
        written.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet)
    } else {
        let missing = report.not_identified.iter().map(|missing| format!("{}  not identified", missing.label));
        let lines: Vec<String> = missing
            .chain([format!("{} identified, {labels} written to {}", report.identified.len(), report.file)])
            .collect();
        lines.iter().map(|line| console.line(line)).fold(Exit::AllMet, Exit::max)
    };
    let outcome = outcome(report, &args.labels);
    output.max(match halt {
        None | Some(Halt::ByPerson) => outcome,
        Some(Halt::Interrupted) => {
            message("interrupted; labels written so far stay in the rig file");
            outcome
        }
        Some(Halt::InputClosed) => {
            console.error("the input has ended; labels written so far stay in the rig file");
            outcome
        }
        Some(Halt::Lost) => {
            console.error(format_args!(
                "{}: another program has removed labels that this session wrote; run again",
                report.file
            ));
            Exit::BadInput
        }
        Some(Halt::NotWritten(error)) => {
            console.error(error);
            Exit::BadInput
        }
        Some(Halt::Broken(trouble)) => broken(console, rig, &trouble),
    })
}
