//! The header as it is read, before it is understood: names of signals that have blanks in them are made one word.
//!
//! The standard (IEEE 1364) has no blanks in names, but logic analysers let people name their channels, and some write those names down.

use std::io::{self, Read};

/// What ends a header.
const END: &[u8] = b"$enddefinitions";

/// Reads up to the end of the header, or so many bytes, and somewhat further.
pub(super) fn read_head(reader: &mut impl Read, most: u64) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    let mut piece = [0; 4096];
    let mut looked = 0_usize;
    loop {
        let read = reader.read(&mut piece)?;
        head.extend_from_slice(&piece[..read]);
        let has_end = head[looked..].windows(END.len()).any(|window| window == END);
        if read == 0 || has_end || head.len() as u64 >= most {
            return Ok(head);
        }
        looked = head.len().saturating_sub(END.len());
    }
}

/// Puts `_` for each blank in the name of a signal. Nothing else changes, and nothing moves.
pub(super) fn join_names(head: &mut [u8]) {
    let mut words: Vec<std::ops::Range<usize>> = Vec::new();
    let mut place = 0;
    while place < head.len() {
        if head[place].is_ascii_whitespace() {
            place += 1;
            continue;
        }
        let end = head[place..].iter().position(u8::is_ascii_whitespace).map_or(head.len(), |length| place + length);
        let word = place..end;
        place = end;
        match &head[word.clone()] {
            b"$var" => words = vec![word],
            b"$end" => {
                if let [_var, _type, _size, _code, name, rest @ ..] = words.as_slice() {
                    join(head, name.start, rest);
                }
                words.clear();
            }
            END => return,
            _ if words.is_empty() => {}
            _ => words.push(word),
        }
    }
}

/// Joins the words of a name that begins there. A last word in brackets is the range of the signal and no part of its name.
fn join(head: &mut [u8], begin: usize, rest: &[std::ops::Range<usize>]) {
    let name = match rest.split_last() {
        Some((last, before)) if head[last.start] == b'[' => before,
        _ => rest,
    };
    let Some(last) = name.last() else { return };
    for byte in &mut head[begin..last.end] {
        if byte.is_ascii_whitespace() {
            *byte = b'_';
        }
    }
}

#[cfg(test)]
mod tests {
    use super::join_names;

    #[test]
    fn names_of_several_words_become_one_and_nothing_else_changes() {
        for (written, read) in [
            ("$var wire 1 ! line $end", "$var wire 1 ! line $end"),
            ("$var wire 1 ! my line $end #0", "$var wire 1 ! my_line $end #0"),
            ("$var wire 1 ! my long  name [0] $end", "$var wire 1 ! my_long__name [0] $end"),
            ("$var wire 8 ! bus [7:0] $end", "$var wire 8 ! bus [7:0] $end"),
            ("$comment a b c d e f g $end", "$comment a b c d e f g $end"),
            ("$enddefinitions $end $var wire 1 ! a b $end", "$enddefinitions $end $var wire 1 ! a b $end"),
            ("$var wire 1", "$var wire 1"),
        ] {
            let mut head = written.as_bytes().to_vec();
            join_names(&mut head);
            assert_eq!(String::from_utf8(head).unwrap(), read);
        }
    }
}
