//! The terminal of the live view: drawn and listened to on a thread of its own, and put back as it was whatever happens.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use ratatui::DefaultTerminal;
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use super::state::{News, State};
use super::view::{Colours, Manner, draw};
use crate::report::Characters;
use crate::run::Stop;

/// How long a key may wait for an answer.
const PATIENCE: Duration = Duration::from_millis(50);

/// What the person at the keys wants of the reader.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct Wishes {
    pause: Arc<AtomicBool>,
}

impl Wishes {
    pub(in crate::cli) fn is_paused(&self) -> bool {
        self.pause.load(Ordering::SeqCst)
    }
}

/// The view, as the reader has hold of it.
pub(in crate::cli) struct Screen {
    news: Sender<News>,
    drawer: JoinHandle<io::Result<State>>,
}

impl Screen {
    /// Takes the terminal.
    ///
    /// # Errors
    /// If it cannot be had as the view needs it.
    pub(in crate::cli) fn open(
        state: State,
        (colours, characters): (Colours, Characters),
        stop: &Stop,
        wishes: &Wishes,
    ) -> io::Result<Self> {
        let terminal = ratatui::try_init()?;
        let (news, received) = channel();
        let (stop, wishes) = (stop.clone(), wishes.clone());
        let manner = Manner { colours, characters };
        let drawer = std::thread::spawn(move || {
            let shown = show(terminal, state, manner, &received, (&stop, &wishes));
            ratatui::restore();
            // Nobody sees what is read from now on.
            stop.raise();
            shown
        });
        Ok(Self { news, drawer })
    }

    /// Shows something. Nothing happens if the view is gone.
    pub(in crate::cli) fn tell(&self, news: News) {
        let _ = self.news.send(news);
    }

    /// Gives the terminal back. What was shown last, or why it could not be shown.
    ///
    /// # Errors
    /// That of the terminal.
    pub(in crate::cli) fn close(self) -> io::Result<State> {
        drop(self.news);
        self.drawer.join().unwrap_or_else(|_| Err(io::Error::other("the view has failed")))
    }
}

/// Draws until somebody wants it to end.
fn show(
    mut terminal: DefaultTerminal,
    mut state: State,
    manner: Manner,
    news: &Receiver<News>,
    (stop, wishes): (&Stop, &Wishes),
) -> io::Result<State> {
    let mut room = 0;
    loop {
        loop {
            match news.try_recv() {
                Ok(one) => state.take(one),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => return Ok(state),
            }
        }
        if stop.is_raised() {
            return Ok(state);
        }
        terminal.draw(|frame| room = draw(frame, &state, manner))?;
        if event::poll(PATIENCE)?
            && let Event::Key(key) = event::read()?
            && key.kind != KeyEventKind::Release
        {
            obey(key, &mut state, room, (stop, wishes));
        }
    }
}

fn obey(key: KeyEvent, state: &mut State, room: usize, (stop, wishes): (&Stop, &Wishes)) {
    let page = isize::try_from(room).unwrap_or(isize::MAX);
    match key.code {
        KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => stop.raise(),
        KeyCode::Char('q') | KeyCode::Esc => stop.raise(),
        KeyCode::Char('p') => {
            state.is_paused = !state.is_paused;
            wishes.pause.store(state.is_paused, Ordering::SeqCst);
        }
        KeyCode::Char('r') => state.reset(),
        KeyCode::Char('?') => state.is_helping = !state.is_helping,
        KeyCode::Up => state.scroll(-1, room),
        KeyCode::Down => state.scroll(1, room),
        KeyCode::PageUp => state.scroll(-page, room),
        KeyCode::PageDown => state.scroll(page, room),
        _ => {}
    }
}
