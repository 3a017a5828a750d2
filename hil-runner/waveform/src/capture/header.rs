//! The header as it is read, before it is understood: what is beyond the standard and does no harm is put into its words.
//!
//! The standard (IEEE 1364) has no blanks in names, few types of signals and scopes, and no commands but its own. Logic analysers let
//! people name their channels, and simulators of newer languages have types and commands of their own; some write all that down.

use std::io::{self, Read};
use std::ops::Range;

/// What ends a header.
const END: &[u8] = b"$enddefinitions";

/// Types of signals in the standard (IEEE 1364), and `string`, which the parser knows too.
const TYPES: [&[u8]; 18] = [
    b"event",
    b"integer",
    b"parameter",
    b"real",
    b"reg",
    b"supply0",
    b"supply1",
    b"time",
    b"tri",
    b"triand",
    b"trior",
    b"trireg",
    b"tri0",
    b"tri1",
    b"wand",
    b"wire",
    b"wor",
    b"string",
];
/// Types of scopes in the standard.
const SCOPES: [&[u8]; 5] = [b"module", b"task", b"function", b"begin", b"fork"];

/// Reads up to the end of the header, or so many bytes, and somewhat further.
pub(super) fn read_head(reader: &mut impl Read, most: u64) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    let mut piece = [0; 4096];
    let mut searched = 0_usize;
    loop {
        let read = reader.read(&mut piece)?;
        head.extend_from_slice(&piece[..read]);
        let has_end = head[searched..].windows(END.len()).any(|window| window == END);
        if read == 0 || has_end || head.len() as u64 >= most {
            return Ok(head);
        }
        searched = head.len().saturating_sub(END.len());
    }
}

/// Something that stands in the place of something else.
type Edit = (Range<usize>, Vec<u8>);

/// The same header in the words of the standard: `_` for each blank in the name of a signal, a known type for an unknown one, `us` for
/// `US`, nothing for a command of the program that wrote the file. Lines stay where they are.
pub(super) fn in_standard_words(head: &[u8]) -> Vec<u8> {
    let mut edits: Vec<Edit> = Vec::new();
    let mut block: Vec<Range<usize>> = Vec::new();
    let mut place = 0;
    while let Some(word) = next_word(head, place) {
        place = word.end;
        let text = &head[word.clone()];
        if text == END {
            break;
        }
        let is_free_text = block.first().is_some_and(|first| is_free_text(&head[first.clone()]));
        let ends = text == b"$end" || is_free_text && text.ends_with(b"$end");
        if block.is_empty() && !text.starts_with(b"$") {
            continue;
        }
        block.push(word);
        if ends || block.first().is_some_and(|first| &head[first.clone()] == b"$end") {
            tidy(head, &block, &mut edits);
            block.clear();
        }
    }
    apply(head, edits)
}

fn next_word(head: &[u8], from: usize) -> Option<Range<usize>> {
    let start = from + head.get(from..)?.iter().position(|byte| !byte.is_ascii_whitespace())?;
    let length = head[start..].iter().position(u8::is_ascii_whitespace).unwrap_or(head.len() - start);
    Some(start..start + length)
}

fn is_free_text(command: &[u8]) -> bool {
    matches!(command, b"$comment" | b"$date" | b"$version")
}

/// What is to be changed in one command, which begins with its name and ends with `$end`.
fn tidy(head: &[u8], block: &[Range<usize>], edits: &mut Vec<Edit>) {
    let Some((command, rest)) = block.split_first() else { return };
    let words = rest.split_last().map_or(rest, |(_, words)| words);
    let is = |word: &Range<usize>, known: &[&[u8]]| known.contains(&&head[word.clone()]);
    match (&head[command.clone()], words) {
        (b"$var", [kind, _size, _code, name, more @ ..]) => {
            if !is(kind, &TYPES) {
                edits.push((kind.clone(), b"wire".to_vec()));
            }
            join(head, name, more, edits);
        }
        (b"$scope", [kind, ..]) if !is(kind, &SCOPES) => edits.push((kind.clone(), b"module".to_vec())),
        (b"$timescale", [first, .., last]) => timescale(head, first.start..last.end, edits),
        (b"$timescale", [only]) => timescale(head, only.clone(), edits),
        (b"$var" | b"$scope" | b"$timescale" | b"$upscope" | b"$end", _) => {}
        (b"$dumpvars" | b"$dumpall" | b"$dumpon" | b"$dumpoff", _) => {}
        (command, _) if is_free_text(command) => {}
        _ => {
            if let Some(last) = block.last() {
                let all = command.start..last.end;
                let lines = head[all.clone()].iter().filter(|byte| **byte == b'\n').count();
                edits.push((all, vec![b'\n'; lines]));
            }
        }
    }
}

/// Joins the words of a name. A last word in brackets is the range of the signal and no part of its name.
fn join(head: &[u8], name: &Range<usize>, more: &[Range<usize>], edits: &mut Vec<Edit>) {
    let words = match more.split_last() {
        Some((last, before)) if head[last.start] == b'[' => before,
        _ => more,
    };
    let mut end = name.end;
    for word in words {
        edits.push((end..word.start, vec![b'_'; word.start - end]));
        end = word.end;
    }
}

/// `1NS`, `1.0 ns` and `1 µs` as `1ns`, `1ns` and `1us`. What is none of these stays, and is refused.
fn timescale(head: &[u8], all: Range<usize>, edits: &mut Vec<Edit>) {
    let Ok(text) = std::str::from_utf8(&head[all.clone()]) else { return };
    let text: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
    let Some((number, unit)) = text.find(|letter: char| letter.is_alphabetic()).map(|place| text.split_at(place))
    else {
        return;
    };
    let whole = number
        .split_once('.')
        .map_or(Some(number), |(whole, rest)| rest.bytes().all(|digit| digit == b'0').then_some(whole));
    let unit = unit.to_lowercase().replace(['µ', 'μ'], "u");
    if let Some(whole) = whole {
        let lines = head[all.clone()].iter().filter(|byte| **byte == b'\n').count();
        edits.push((all, format!("{whole}{unit}{}", "\n".repeat(lines)).into_bytes()));
    }
}

fn apply(head: &[u8], edits: Vec<Edit>) -> Vec<u8> {
    let mut out = Vec::with_capacity(head.len());
    let mut place = 0;
    for (range, text) in edits {
        out.extend_from_slice(&head[place..range.start]);
        out.extend_from_slice(&text);
        place = range.end;
    }
    out.extend_from_slice(&head[place..]);
    out
}

#[cfg(test)]
mod tests {
    use super::in_standard_words;

    #[test]
    fn what_is_beyond_the_standard_is_put_into_its_words_and_nothing_else_changes() {
        for (written, read) in [
            ("$var wire 1 ! line $end", "$var wire 1 ! line $end"),
            ("$var wire 1 ! my line $end #0", "$var wire 1 ! my_line $end #0"),
            ("$var wire 1 ! my long  name [0] $end", "$var wire 1 ! my_long__name [0] $end"),
            ("$var wire 8 ! bus [7:0] $end", "$var wire 8 ! bus [7:0] $end"),
            ("$var logic 1 ! a $end $var bit 1 # b $end", "$var wire 1 ! a $end $var wire 1 # b $end"),
            ("$scope interface bus $end $upscope $end", "$scope module bus $end $upscope $end"),
            ("$attrbegin misc\n 07 a 1\n$end $var wire 1 ! a $end", "\n\n $var wire 1 ! a $end"),
            (
                "$comment a $var b c d e f g$end $scope generate x $end",
                "$comment a $var b c d e f g$end $scope module x $end",
            ),
            ("$enddefinitions $end $var wire 1 ! a b $end", "$enddefinitions $end $var wire 1 ! a b $end"),
            ("$timescale 1 NS $end", "$timescale 1ns $end"),
            ("$timescale\n  10.0 µs\n$end", "$timescale\n  10us\n$end"),
            ("$timescale 0.5 ns $end", "$timescale 0.5 ns $end"),
            ("$var wire 1", "$var wire 1"),
            ("$", "$"),
        ] {
            assert_eq!(String::from_utf8(in_standard_words(written.as_bytes())).unwrap(), read);
        }
    }
}
