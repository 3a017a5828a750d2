//! The live view, drawn: a heading, a line for each sensor, the keys. Nothing is said by colour alone.

use std::time::Duration;

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Row, Table, Wrap};
use slotwise::thermometer::Family;

use super::state::{SensorState, State, Track, degrees_text};
use super::trend::Trend;
use slotwise_report::Characters;
use slotwise_terms::units::rig_time;

/// Whether colours are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) enum Colours {
    /// They are.
    On,
    /// They are not.
    Off,
}

/// How it may look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    pub(super) colours: Colours,
    pub(super) characters: Characters,
}

const KEYS: &str = "q ends   p pauses   r forgets lowest and highest   arrows scroll   ? help";
const FEW_KEYS: &str = "q ends  ? help";
const HELP: [&str; 9] = [
    "q, Ctrl-C   end",
    "p           pause, and go on",
    "r           forget the lowest and the highest so far",
    "up, down    other sensors, if there are more than lines",
    "?           this, and back",
    "",
    "The trend is that of the last five minutes; below one step of the reading it is steady. A number in",
    "brackets is old: the sensor gives none, or a doubtful one, now.",
    "This is no certified measuring instrument: no reliance for food, medical, fire or process safety.",
];

impl Manner {
    fn bad(self) -> Style {
        let style = Style::new().add_modifier(Modifier::BOLD);
        if self.colours == Colours::On { style.fg(Color::Red) } else { style }
    }

    #[expect(clippy::unused_self, reason = "how it may look is asked for in one way")]
    const fn odd(self) -> Style {
        // No colour of the usual ones can be read on light and on dark.
        Style::new().add_modifier(Modifier::BOLD)
    }
}

/// Draws it. Says how many sensors had room.
pub(super) fn draw(frame: &mut Frame<'_>, state: &State, manner: Manner) -> usize {
    let alarm = if state.broken.is_some() { frame.area().height.saturating_sub(8).min(6) } else { 0 };
    let [head, broken, body, foot] =
        Layout::vertical([Constraint::Length(2), Constraint::Length(alarm), Constraint::Min(1), Constraint::Length(1)])
            .areas(frame.area());
    frame.render_widget(heading(state, head.width), head);
    if let Some((what, hint)) = &state.broken {
        let text = vec![Line::styled(format!("BROKEN: {what}"), manner.bad()), Line::from(format!("hint: {hint}"))];
        frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), broken);
    }
    let room = if state.is_helping {
        let lines: Vec<Line<'_>> = HELP.into_iter().map(Line::from).collect();
        frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }), body);
        usize::from(body.height).saturating_sub(1)
    } else {
        sensors(frame, state, manner, body)
    };
    frame.render_widget(keys(state, room, foot.width), foot);
    room
}

/// The keys, behind which sensors are shown if not all are.
fn keys(state: &State, room: usize, width: u16) -> Paragraph<'static> {
    let all = state.tracks.len();
    let which = if all > room {
        format!("{} to {} of {all}   ", state.top + 1, (state.top + room).min(all))
    } else {
        String::new()
    };
    let keys = if usize::from(width) >= which.len() + KEYS.len() { KEYS } else { FEW_KEYS };
    Paragraph::new(format!("{which}{keys}")).style(Style::new().add_modifier(Modifier::DIM))
}

fn heading(state: &State, width: u16) -> Paragraph<'static> {
    let share = if state.readings == 0 { 0.0 } else { 100.0 * f64::from(state.not_good) / f64::from(state.readings) };
    let time = rig_time(u64::try_from(state.now.as_nanos()).unwrap_or(u64::MAX));
    let paused = if state.is_paused { "PAUSED  " } else { "" };
    let counts = format!(
        "{paused}round {}; {share:.1} % not good, {} of {}; {time}",
        state.rounds, state.not_good, state.readings
    );
    let every = format!("every {}", humantime::format_duration(state.interval));
    let first = format!("{}, {every}", state.rig);
    // Where the rig's whole description has no room, its name has.
    let short = state.rig.split(':').next().unwrap_or_default();
    let first = if first.chars().count() <= usize::from(width) { first } else { format!("{short}, {every}") };
    let bold = Style::new().add_modifier(Modifier::BOLD);
    Paragraph::new(vec![Line::styled(first, bold), Line::from(counts)])
}

/// A column: its name, its width, and from which width of the terminal on it is there.
struct Column {
    name: &'static str,
    width: u16,
    from: u16,
    cell: fn(&Track, &State, Manner) -> Line<'static>,
}

/// From this width on, all of a ROM code and all of what is wrong is shown.
const WHOLE: u16 = 60;
/// The width of names where there is room for more.
const NAMES_FROM: u16 = 96;

const COLUMNS: [Column; 8] = [
    Column { name: "sensor", width: 18, from: 0, cell: |track, _, _| track.name().into() },
    Column { name: "ROM code", width: 18, from: WHOLE, cell: |track, _, _| track.sensor.rom.to_string().into() },
    Column { name: "part", width: 9, from: 110, cell: part },
    Column { name: "now", width: 15, from: 0, cell: now },
    Column { name: "trend", width: 16, from: 78, cell: trend },
    Column { name: "lowest", width: 13, from: 136, cell: |track, _, _| number(track.least) },
    Column { name: "highest", width: 13, from: 136, cell: |track, _, _| number(track.most) },
    Column { name: "lately", width: 12, from: NAMES_FROM, cell: lately },
];

/// Draws a line for each sensor, and below it what is wrong where that has no room beside. Says how many sensors had
/// room.
fn sensors(frame: &mut Frame<'_>, state: &State, manner: Manner, body: Rect) -> usize {
    let columns: Vec<&Column> = COLUMNS.iter().filter(|column| body.width >= column.from).collect();
    // Names take the room they need, as far as there is any.
    let longest = state.tracks.iter().map(|track| track.name().chars().count()).max().unwrap_or(0);
    let for_names = u16::try_from(longest).unwrap_or(u16::MAX).clamp(6, if body.width < NAMES_FROM { 18 } else { 24 });
    let widths: Vec<u16> =
        std::iter::once(for_names).chain(columns.iter().skip(1).map(|column| column.width)).collect();
    let beside = body.width.saturating_sub(widths.iter().map(|width| width + 1).sum());
    let constraints = || widths.iter().copied().map(Constraint::Length).chain([Constraint::Length(beside)]);
    let heading = Row::new(columns.iter().map(|column| column.name)).style(Style::new().add_modifier(Modifier::DIM));
    let [first, mut rest] = Layout::vertical([Constraint::Length(1), Constraint::Min(0)]).areas(body);
    frame.render_widget(Table::new([heading], constraints()).column_spacing(1), first);
    let mut room = 0;
    for track in state.tracks.iter().skip(state.top) {
        let remark = remark(track, state, manner);
        let is_below = body.width >= WHOLE && remark.width() > usize::from(beside);
        let below = if is_below { filled(&remark, body.width) } else { Vec::new() };
        let height = u16::try_from(below.len() + 1).unwrap_or(u16::MAX);
        // The first has as much of the room as there is.
        if rest.height == 0 || (height > rest.height && room > 0) {
            break;
        }
        let cells = columns.iter().map(|column| (column.cell)(track, state, manner));
        let row = Row::new(cells.chain([if is_below { Line::default() } else { remark }]));
        let [line, more, after] =
            Layout::vertical([Constraint::Length(1), Constraint::Length(height - 1), Constraint::Min(0)]).areas(rest);
        frame.render_widget(Table::new([row], constraints()).column_spacing(1), line);
        frame.render_widget(Paragraph::new(below), more);
        rest = after;
        room += 1;
    }
    room
}

/// A line in as many as it takes, set in; its first word looks as it did.
fn filled(line: &Line<'static>, width: u16) -> Vec<Line<'static>> {
    const MARGIN: &str = "  ";
    let text: String = line.spans.iter().map(|span| span.content.as_ref()).collect();
    let options = textwrap::Options::new(width.into()).initial_indent(MARGIN).subsequent_indent(MARGIN);
    let mut lines: Vec<Line<'static>> =
        textwrap::wrap(&text, options).into_iter().map(|line| Line::from(line.into_owned())).collect();
    if let ([word, _, ..], Some(first)) = (line.spans.as_slice(), lines.first_mut()) {
        let shown: String = first.spans.iter().map(|span| span.content.as_ref()).collect();
        let rest = shown.trim_start().strip_prefix(word.content.as_ref()).map(str::to_owned);
        if let Some(rest) = rest {
            *first = Line::from(vec![Span::from(MARGIN), word.clone(), Span::from(rest)]);
        }
    }
    lines
}

fn part(track: &Track, _: &State, _: Manner) -> Line<'static> {
    Family::of(track.sensor.rom).map_or("-", Family::part).into()
}

fn number(degrees: Option<f64>) -> Line<'static> {
    degrees.map_or_else(|| "-".into(), |degrees| degrees_text(degrees).into())
}

/// The number; in brackets if it is old.
fn now(track: &Track, _: &State, manner: Manner) -> Line<'static> {
    let last = track.last.map(|(_, degrees)| degrees_text(degrees));
    match (&track.standing, last) {
        (SensorState::Waiting, _) => "...".into(),
        (SensorState::Good, Some(text)) => Line::styled(text, Style::new().add_modifier(Modifier::BOLD)),
        (_, Some(text)) => Line::styled(format!("({text})"), manner.odd()),
        (_, None) => "-".into(),
    }
}

fn trend(track: &Track, _: &State, manner: Manner) -> Line<'static> {
    if track.standing != SensorState::Good {
        return "-".into();
    }
    let arrow = |up: bool| match (manner.characters, up) {
        (Characters::Unicode, true) => "↗",
        (Characters::Unicode, false) => "↘",
        (Characters::Ascii, true) => "up",
        (Characters::Ascii, false) => "down",
    };
    match track.trend() {
        Trend::Unknown => "too early".into(),
        Trend::Steady => "steady".into(),
        Trend::Moves(slope) => format!("{} {slope:+.2}/min", arrow(slope > 0.0)).into(),
    }
}

/// The last readings between the lowest and the highest of them.
fn lately(track: &Track, _: &State, manner: Manner) -> Line<'static> {
    const WIDTH: usize = 12;
    let levels: &[char] = match manner.characters {
        Characters::Unicode => &['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'],
        Characters::Ascii => &['_', '.', '-', '~', '=', '+', '*', '#'],
    };
    let recent: Vec<f64> = track.kept.iter().rev().take(WIDTH).rev().map(|(_, degrees)| *degrees).collect();
    let least = recent.iter().copied().fold(f64::INFINITY, f64::min);
    let most = recent.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // One step to and fro shall not look like a storm.
    let span = (most - least).max(levels.len() as f64 * track.step());
    let bottom = f64::midpoint(least, most) - span / 2.0;
    let height = |degrees: f64| {
        let share = (degrees - bottom) / span;
        levels[((share * levels.len() as f64) as usize).min(levels.len() - 1)]
    };
    recent.into_iter().map(height).collect::<String>().into()
}

/// What is wrong, and how old the number is.
fn remark(track: &Track, state: &State, manner: Manner) -> Line<'static> {
    let age = track.last.map(|(at, _)| state.now.saturating_sub(at));
    let aged = |why: &str| match age {
        Some(age) if age > Duration::ZERO => format!("number is {} old; {why}", seconds(age)),
        _ => why.to_owned(),
    };
    match &track.standing {
        SensorState::Waiting | SensorState::Good if track.failed > 0 => {
            let last = track.last_error.as_deref().unwrap_or_default();
            format!("{} not good, the last: {last}", track.failed).into()
        }
        SensorState::Waiting | SensorState::Good => track.note.clone().into(),
        SensorState::Doubted(why) => Line::from(vec![Span::styled("DOUBT ", manner.odd()), Span::from(aged(why))]),
        SensorState::Failed(why) => Line::from(vec![Span::styled("FAILED ", manner.bad()), Span::from(aged(why))]),
    }
}

fn seconds(age: Duration) -> String {
    rig_time(age.as_secs() * 1_000_000_000)
}

#[cfg(test)]
mod tests {
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;
    use slotwise::thermometer::Doubt;

    use super::super::state::tests::{failed, read, round, state};
    use super::*;
    use crate::cli::watch::News;

    const PLAIN: Manner = Manner { colours: Colours::Off, characters: Characters::Ascii };

    fn drawn(state: &State, width: u16, height: u16, manner: Manner) -> Vec<String> {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal
            .draw(|frame| {
                draw(frame, state, manner);
            })
            .unwrap();
        let buffer = terminal.backend().buffer();
        let line = |y| (0..width).map(|x| buffer[(x, y)].symbol()).collect::<String>().trim_end().to_owned();
        (0..height).map(line).collect()
    }

    fn fed() -> State {
        let mut state = state(3);
        for second in 0..30 {
            let warming = read(320 + second as i16, Vec::new());
            let last = if second < 25 { read(200, Vec::new()) } else { failed() };
            let doubted = read(1360, vec![Doubt::PowerOnValue]);
            state.take(round(second * 2, vec![warming, doubted, last]));
        }
        state
    }

    #[test]
    fn a_wide_terminal_shows_everything() {
        let lines = drawn(&fed(), 160, 10, PLAIN).join("\n");
        for part in [
            "round 30",
            "21.8125 degC",
            "up +1.88/min",
            "DS18B20",
            "20 degC",
            "DOUBT 85 degC",
            "FAILED",
            "(12.5 degC)",
            "number is 10.000 s old",
            "q ends",
        ] {
            assert!(lines.contains(part), "{part}:\n{lines}");
        }
    }

    #[test]
    fn from_sixty_columns_on_rom_codes_and_failures_are_shown_in_full() {
        let state = fed();
        let wrong: Vec<String> = state
            .tracks
            .iter()
            .filter_map(|track| match &track.standing {
                SensorState::Failed(why) | SensorState::Doubted(why) => Some(why.clone()),
                _ => None,
            })
            .collect();
        assert_eq!(wrong.len(), 2);
        for width in [60, 61, 77, 80, 95, 96, 109, 120, 135, 136, 160, 240] {
            let lines = drawn(&state, width, 16, PLAIN);
            let words = lines.iter().flat_map(|line| line.split_whitespace()).collect::<Vec<_>>().join(" ");
            for track in &state.tracks {
                assert!(words.contains(&track.sensor.rom.to_string()), "{width}: {}", lines.join("\n"));
            }
            for why in &wrong {
                assert!(words.contains(why.as_str()), "{width}: {why}: {}", lines.join("\n"));
            }
        }
        // Sensors that had no room can be reached.
        let few = drawn(&state, 60, 6, PLAIN).join("\n");
        assert!(few.contains("of 3"), "{few}");
    }

    #[test]
    fn a_small_terminal_shows_sensor_and_reading() {
        let lines = drawn(&fed(), 40, 8, PLAIN);
        let text = lines.join("\n");
        assert!(text.contains("21.8125 degC") && text.contains("FAILED"), "{text}");
        assert!(lines.iter().all(|line| line.chars().count() <= 40));
        // Ten sensors have no room on it, and it says so.
        let text = drawn(&state(10), 40, 10, PLAIN).join("\n");
        assert!(text.contains("of 10"), "{text}");
        // Whatever the size, nothing panics.
        for (width, height) in [(1, 1), (3, 2), (10, 3), (500, 1), (1, 100)] {
            drawn(&fed(), width, height, PLAIN);
        }
    }

    #[test]
    fn a_broken_rig_is_shown_above_the_sensors() {
        let mut state = fed();
        let at = Duration::from_secs(70);
        state.take(News::Broken { at, what: "line stuck low".into(), hint: "measure it".into() });
        let text = drawn(&state, 80, 12, PLAIN).join("\n");
        assert!(text.contains("BROKEN: line stuck low") && text.contains("hint: measure it"), "{text}");
        assert!(text.contains("(21.8125 degC)"), "old: {text}");
    }

    #[test]
    fn without_colours_there_are_none_and_plain_characters_are_plain() {
        let mut terminal = Terminal::new(TestBackend::new(160, 10)).unwrap();
        terminal
            .draw(|frame| {
                draw(frame, &fed(), PLAIN);
            })
            .unwrap();
        for cell in terminal.backend().buffer().content() {
            assert_eq!((cell.fg, cell.bg), (Color::Reset, Color::Reset));
            assert!(cell.symbol().is_ascii(), "{}", cell.symbol());
        }
        let manner = Manner { colours: Colours::On, characters: Characters::Unicode };
        assert!(drawn(&fed(), 160, 10, manner).join("").contains('↗'));
    }
}
