//! The terminal as a screen: raw keys in, drawn buffers out, and restored whatever happens.
//!
//! Keys are read and stamped on a thread of their own. What is drawn is written by another one,
//! so that a terminal that takes nothing (a stalled connection, a held scroll) holds up nothing
//! but its own picture: while it has not taken the last one, no new one is given.
//!
//! A terminal that was closed never ends a read of the library that takes keys: that is looked
//! at before it is asked, and beside it, and a thread that it keeps all the same is left behind.

use crate::ports::serial::join_within;
use crate::shell::clock::Clock;
use crate::shell::out::{self, steers};
use ratatui::backend::{Backend, CrosstermBackend};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, poll, read};
use ratatui::crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use ratatui::crossterm::{cursor, queue, style};
use ratatui::layout::Rect;
use std::io::{self, IsTerminal as _, Write as _};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, Once, OnceLock, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_show::live::keys::Key;

/// How often the key thread looks whether it is to end.
const KEY_LOOK: Duration = Duration::from_millis(50);
/// Keys that may wait.
const KEYS_MAX: usize = 256;
/// Longest wait at the end for a terminal that takes nothing.
const LAST_WAIT: Duration = Duration::from_millis(500);
/// Lines of a page up or down.
const PAGE: i32 = 10;

/// The terminal is a screen now: nobody else may write to it.
static ACTIVE: AtomicBool = AtomicBool::new(false);
/// What a thread said that broke down meanwhile.
static BROKE: Mutex<Vec<String>> = Mutex::new(Vec::new());
static HOOK: Once = Once::new();

/// What comes from the keyboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A key, and the host time at which it came, nanoseconds.
    Key(u64, Key),
    /// The terminal has closed.
    Gone,
}

/// True when people sit at both ends: input and output are terminals that can place characters.
#[must_use]
pub fn is_there() -> bool {
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb" || term.is_empty());
    io::stdin().is_terminal() && io::stdout().is_terminal() && !dumb
}

/// True unless the person wants no colours (the convention of no-color.org).
#[must_use]
pub fn wants_colour() -> bool {
    std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// The terminal, taken over. Dropping it gives it back.
pub struct Screen {
    shown: Buffer,
    bell: bool,
    busy: Arc<AtomicBool>,
    gone: Arc<AtomicBool>,
    /// The thread that writes; none once the screen is over.
    writer: Option<Writer>,
    keys: Receiver<Typed>,
    stop: Arc<AtomicBool>,
    key_thread: Option<JoinHandle<()>>,
}

impl Screen {
    /// Take the terminal over.
    ///
    /// # Errors
    /// What the system says when it cannot be set.
    pub fn open(clock: Clock) -> io::Result<Self> {
        HOOK.call_once(keep_off);
        // Lines that are still to be written end as lines do only until then.
        out::flush_within(LAST_WAIT);
        enable_raw_mode()?;
        ACTIVE.store(true, Ordering::SeqCst);
        // What cannot be a screen is given back at once.
        Self::taken_over(clock).inspect_err(|_| {
            let _ = disable_raw_mode();
            ACTIVE.store(false, Ordering::SeqCst);
        })
    }

    fn taken_over(clock: Clock) -> io::Result<Self> {
        let (busy, gone) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicBool::new(false)));
        let writer = start_writer(Arc::clone(&busy), Arc::clone(&gone))?;
        let stop = Arc::new(AtomicBool::new(false));
        let (sender, keys) = sync_channel(KEYS_MAX);
        let halt = Arc::clone(&stop);
        let read = move || read_keys(clock, &halt, &sender);
        let key_thread = std::thread::Builder::new().spawn(read)?;
        let screen = Self {
            shown: Buffer::empty(Rect::ZERO),
            bell: false,
            busy,
            gone,
            writer: Some(writer),
            keys,
            stop,
            key_thread: Some(key_thread),
        };
        let mut bytes = Vec::new();
        queue!(bytes, EnterAlternateScreen, cursor::Hide)?;
        screen.give(bytes);
        Ok(screen)
    }

    /// The next key that came, if one did.
    #[must_use]
    pub fn typed(&self) -> Option<Typed> {
        if self.gone.load(Ordering::SeqCst) || look(Duration::ZERO) == Keys::Closed {
            self.gone.store(true, Ordering::SeqCst);
            return Some(Typed::Gone);
        }
        self.keys.try_recv().ok()
    }

    /// Size of the terminal now.
    #[must_use]
    pub fn area(&self) -> Rect {
        size().map_or(Rect::new(0, 0, 80, 24), |(width, height)| Rect::new(0, 0, width, height))
    }

    /// Ring with the next picture.
    pub const fn ring(&mut self) {
        self.bell = true;
    }

    /// Show what `paint` draws; nothing while the terminal has not taken the last picture.
    ///
    /// # Errors
    /// Only when a picture cannot be put into bytes.
    pub fn draw(&mut self, paint: impl FnOnce(&mut Buffer)) -> io::Result<()> {
        if self.busy.load(Ordering::SeqCst) || self.gone.load(Ordering::SeqCst) {
            return Ok(());
        }
        let area = self.area();
        let mut bytes = Vec::new();
        if self.shown.area != area {
            queue!(bytes, Clear(ClearType::All))?;
            self.shown = Buffer::empty(area);
        }
        let mut next = Buffer::empty(area);
        paint(&mut next);
        for cell in &mut next.content {
            if cell.symbol().contains(steers) {
                cell.set_symbol("?");
            }
        }
        CrosstermBackend::new(&mut bytes).draw(self.shown.diff(&next).into_iter())?;
        if std::mem::take(&mut self.bell) {
            bytes.push(b'\x07');
        }
        self.shown = next;
        self.give(bytes);
        Ok(())
    }

    fn give(&self, bytes: Vec<u8>) {
        let Some((writer, _)) = &self.writer else { return };
        self.busy.store(true, Ordering::SeqCst);
        if writer.try_send(bytes).is_err() {
            self.busy.store(false, Ordering::SeqCst);
        }
    }

    fn wait_until_taken(&self) {
        let until = Instant::now() + LAST_WAIT;
        let gone = || self.gone.load(Ordering::SeqCst);
        while self.busy.load(Ordering::SeqCst) && !gone() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.key_thread.take() {
            join_within(thread, LAST_WAIT);
        }
        self.wait_until_taken();
        let mut bytes = Vec::new();
        // Writing into memory does not fail.
        let _ = queue!(bytes, style::ResetColor, cursor::Show, LeaveAlternateScreen);
        self.give(bytes);
        // It ends when it has written the last: what is said next must not come before that.
        if let Some((writer, thread)) = self.writer.take() {
            drop(writer);
            join_within(thread, LAST_WAIT);
        }
        // A terminal that has closed needs no restoring.
        let _ = disable_raw_mode();
        ACTIVE.store(false, Ordering::SeqCst);
        let broke = std::mem::take(&mut *BROKE.lock().unwrap_or_else(PoisonError::into_inner));
        broke.iter().for_each(|words| out::notice(words));
    }
}

/// While the terminal is a screen, a thread that breaks down does not write over it: its words
/// are kept until the terminal is given back.
fn keep_off() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |broke| {
        if ACTIVE.load(Ordering::SeqCst) {
            BROKE.lock().unwrap_or_else(PoisonError::into_inner).push(broke.to_string());
        } else {
            before(broke);
        }
    }));
}

/// What can be seen of the keyboard without reading from it.
#[cfg_attr(not(unix), allow(dead_code, reason = "elsewhere nothing of it can be seen"))]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Keys {
    /// Nothing was typed.
    None,
    /// Something can be read; or nobody knows.
    Some,
    /// The terminal is closed.
    Closed,
}

/// Look at the keyboard, or wait up to `wait` for something.
fn look(wait: Duration) -> Keys {
    #[cfg(unix)]
    {
        use rustix::event::{PollFd, PollFlags, Timespec, poll};
        let stdin = io::stdin();
        let mut keyboard = [PollFd::new(&stdin, PollFlags::IN)];
        let wait = Timespec::try_from(wait).ok();
        if poll(&mut keyboard, wait.as_ref()).is_err() {
            return Keys::None;
        }
        let seen = keyboard[0].revents();
        if seen.intersects(PollFlags::HUP | PollFlags::ERR) {
            Keys::Closed
        } else if seen.is_empty() {
            Keys::None
        } else {
            Keys::Some
        }
    }
    #[cfg(not(unix))]
    {
        let _ = wait;
        Keys::Some
    }
}

/// Whether lines come from a terminal. A closed one no longer says that it is one, so the first
/// answer holds.
#[must_use]
pub fn types_lines() -> bool {
    static TERMINAL: OnceLock<bool> = OnceLock::new();
    *TERMINAL.get_or_init(|| io::stdin().is_terminal())
}

/// True once the terminal that lines or keys come from is closed.
#[must_use]
pub fn is_closed() -> bool {
    types_lines() && look(Duration::ZERO) == Keys::Closed
}

type Writer = (SyncSender<Vec<u8>>, JoinHandle<()>);

fn start_writer(busy: Arc<AtomicBool>, gone: Arc<AtomicBool>) -> io::Result<Writer> {
    let (sender, pictures) = sync_channel::<Vec<u8>>(1);
    let thread = std::thread::Builder::new().spawn(move || {
        // Another thread writes what was said until now: it must not come into a picture.
        out::flush();
        for picture in pictures {
            let mut terminal = io::stdout().lock();
            if terminal.write_all(&picture).and_then(|()| terminal.flush()).is_err() {
                gone.store(true, Ordering::SeqCst);
            }
            busy.store(false, Ordering::SeqCst);
        }
    })?;
    Ok((sender, thread))
}

fn read_keys(clock: Clock, stop: &AtomicBool, sender: &SyncSender<Typed>) {
    // What was read already waits inside the library, and shows at no other place.
    let mut more = false;
    while !stop.load(Ordering::SeqCst) {
        let event = match look(if more { Duration::ZERO } else { KEY_LOOK }) {
            Keys::None if !more => continue,
            Keys::Closed => Err(io::ErrorKind::BrokenPipe.into()),
            _ => Ok(()),
        };
        let event = event.and_then(|()| poll(if more { Duration::ZERO } else { KEY_LOOK }));
        more = matches!(event, Ok(true));
        let event = match event {
            Ok(false) => continue,
            Ok(true) => read(),
            Err(error) => Err(error),
        };
        let typed = match event {
            Ok(Event::Key(key)) => meaning(key).map(|key| Typed::Key(clock.now_ns(), key)),
            Ok(_) => None,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => None,
            Err(_) => Some(Typed::Gone),
        };
        let Some(typed) = typed else { continue };
        // Nobody takes keys after the screen has ended.
        if sender.send(typed).is_err() || typed == Typed::Gone {
            return;
        }
    }
}

fn meaning(event: KeyEvent) -> Option<Key> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    let control = event.modifiers.contains(KeyModifiers::CONTROL);
    Some(match event.code {
        KeyCode::Char('c') if control => Key::Interrupt,
        KeyCode::Char(_) if control || event.modifiers.contains(KeyModifiers::ALT) => return None,
        KeyCode::Char(c) => Key::Char(c),
        KeyCode::Enter => Key::Enter,
        KeyCode::Esc => Key::Escape,
        KeyCode::Backspace => Key::Backspace,
        KeyCode::Up => Key::Scroll(-1),
        KeyCode::Down => Key::Scroll(1),
        KeyCode::PageUp => Key::Scroll(-PAGE),
        KeyCode::PageDown => Key::Scroll(PAGE),
        _ => return None,
    })
}
