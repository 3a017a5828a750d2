//! What a terminal shows of a bad rig file.

use crate::Rig;
use slotwise_terms::input::DecorStyle;

fn excerpt(columns: usize, decor: DecorStyle) -> String {
    let errors = Rig::parse("shed.toml", BAD).unwrap_err();
    let of_kind = errors.problems().iter().find(|problem| problem.position().is_some_and(|at| at.line == 2));
    anstream::adapter::strip_str(&of_kind.expect("the kind is wrong").excerpt(columns, decor)).to_string()
}

const BAD: &str = "rig = \"shed\"\nkind = \"vrtual\"\n";

#[test]
fn an_excerpt_has_file_line_column_a_mark_and_the_hint() {
    for decor in [DecorStyle::Ascii, DecorStyle::Unicode] {
        let shown = excerpt(100, decor);
        let lines: Vec<&str> = shown.lines().collect();
        assert!(lines[0].starts_with("error: shed.toml:2:8: expected \"virtual\""), "{shown}");
        assert!(lines.iter().any(|line| line.ends_with(" shed.toml:2:8")), "{shown}");
        let source = lines.iter().position(|line| line.ends_with("kind = \"vrtual\"")).expect("the line is shown");
        let mark = match decor {
            DecorStyle::Ascii => "^^^^^^^^",
            DecorStyle::Unicode => "\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}\u{2501}",
        };
        let column = |line: &str, what: &str| line.find(what).map(|at| line[..at].chars().count());
        assert_eq!(column(lines[source + 1], mark), column(lines[source], "\"vrtual\""), "{shown}");
        assert!(column(lines[source + 1], mark).is_some(), "{shown}");
        assert_eq!(lines.last(), Some(&"hint: the nearest known word is \"virtual\""), "{shown}");
    }
}

#[test]
fn a_title_keeps_to_the_columns() {
    let title = excerpt(40, DecorStyle::Ascii);
    assert!(title.lines().take(2).all(|line| line.chars().count() <= 40), "{title}");
}
