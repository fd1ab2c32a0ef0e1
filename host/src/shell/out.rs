//! Every word that goes to the terminal.
//!
//! Nothing else writes to stdout or stderr, and whatever goes there is made safe for a terminal
//! here: texts come from captures and files that somebody else may have made. When whoever read
//! our output has gone (`| head -1`) the program ends quietly with code 0; a live job first closes
//! its capture in order. While a job is live a thread of its own writes, so that a terminal that
//! takes nothing holds up neither the job nor its end.

use super::{exit, stop, tongue};
use std::borrow::Cow;
use std::cell::RefCell;
use std::io::{ErrorKind, IsTerminal as _, Write as _};
use std::rc::Rc;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU8, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// [`OPEN`], or the exit code to end with because stdout takes nothing any more.
static STATE: AtomicU8 = AtomicU8::new(OPEN);
/// Stdout takes what is written.
const OPEN: u8 = u8::MAX;
/// The thread that writes, once a job is live; `None` where there are no threads left.
static PEN: OnceLock<Option<Pen>> = OnceLock::new();
/// Bytes that the thread has not written yet.
static WAITING: AtomicUsize = AtomicUsize::new(0);
/// So many of them may wait before a live job waits too: more than a day of its lines.
const WAITING_MAX: usize = 1 << 20;
/// Once the program is to stop, a terminal that takes nothing is waited for so long.
const LAST_WAIT: Duration = Duration::from_millis(500);

/// Hands texts to the thread that writes.
type Pen = Sender<(To, Vec<u8>)>;

/// Hears what a thread would write: where it would go, and the bytes.
type Ear = Box<dyn FnMut(To, &[u8])>;

thread_local! {
    /// Set on a thread that works for a page: nothing of it reaches the terminal.
    static EAR: RefCell<Option<Ear>> = const { RefCell::new(None) };
}

/// What a thread that works for a page would have written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// For the standard output.
    pub out: Vec<u8>,
    /// For the standard error.
    pub err: Vec<u8>,
}

/// Do `what` on this thread, and hear what it writes; whatever it writes is told to `ear` as it
/// comes. When `what` breaks down this thread is as it was before.
pub fn heard<T>(what: impl FnOnce() -> T, mut ear: impl FnMut(To, &[u8]) + 'static) -> T {
    struct Deaf;
    impl Drop for Deaf {
        fn drop(&mut self) {
            EAR.with_borrow_mut(|ear| *ear = None);
        }
    }
    let _deaf = Deaf;
    EAR.with_borrow_mut(|own| *own = Some(Box::new(move |to, bytes| ear(to, bytes))));
    what()
}

/// The same, and give all of it back.
pub fn heard_whole<T>(what: impl FnOnce() -> T) -> (T, Heard) {
    let all = Rc::new(RefCell::new(Heard::default()));
    let kept = Rc::clone(&all);
    let done = heard(what, move |to, bytes| {
        let mut all = kept.borrow_mut();
        match to {
            To::Out => all.out.extend_from_slice(bytes),
            To::Err => all.err.extend_from_slice(bytes),
        }
    });
    let all = all.take();
    (done, all)
}

/// Write what was heard of another thread. Ends like [`say`].
pub fn say_heard(heard: &Heard) {
    for (to, bytes) in [(To::Out, &heard.out), (To::Err, &heard.err)] {
        // What is for the standard output may be for a program.
        match std::str::from_utf8(bytes) {
            Ok(text) if to == To::Err && !text.is_empty() => write(to, spoken(text).as_bytes()),
            _ if bytes.is_empty() => {}
            _ => write(to, bytes),
        }
    }
    end_if_closed();
}

/// True on a thread whose words are heard by a page.
#[must_use]
pub fn is_heard() -> bool {
    EAR.with_borrow(Option::is_some)
}

/// Where a text goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum To {
    /// The standard output.
    Out,
    /// The standard error.
    Err,
}

/// A text in the language in force. What a page hears stays English: its own edge says it. An
/// object or a list is for a program.
fn spoken(text: &str) -> Cow<'_, str> {
    if is_heard() || ["{", "[{", "[]", "[\""].iter().any(|start| text.starts_with(start)) {
        return Cow::Borrowed(text);
    }
    tongue::in_force().lines(text)
}

/// Write a line to stdout. A broken pipe ends the program quietly with code 0.
pub fn say(line: &str) {
    say_text(&format!("{line}\n"));
}

/// Write lines for people to stdout. Ends like [`say`].
pub fn say_text(text: &str) {
    say_raw(&spoken(text));
}

/// Write text to stdout as it stands, without a line end of its own. Ends like [`say`].
pub fn say_raw(text: &str) {
    write(To::Out, clean(text).as_bytes());
    end_if_closed();
}

/// Print a result as one JSON object or for people, whichever was asked for. Ends like [`say`].
pub fn say_either(json: bool, object: impl FnOnce() -> String, text: impl FnOnce() -> String) {
    if json { say_json(&object()) } else { say_text(&text()) }
}

/// Print one JSON text as a line. Ends like [`say`].
pub fn say_json(json: &str) {
    say_raw(&format!("{}\n", clean_json(json)));
}

/// Write bytes to stdout, for a file or another program: as they are, but not to a terminal. Ends
/// like [`say`].
pub fn say_bytes(bytes: &[u8]) {
    if !is_heard() && std::io::stdout().is_terminal() {
        return say_raw(&String::from_utf8_lossy(bytes));
    }
    write(To::Out, bytes);
    end_if_closed();
}

/// Write a line to stdout while a job is live: a broken pipe is only noted, for [`closed`].
pub fn say_live(line: &str) {
    write(To::Out, clean(&format!("{}\n", spoken(line))).as_bytes());
}

/// True when stdout takes nothing any more.
#[must_use]
pub fn closed() -> bool {
    !is_heard() && STATE.load(Ordering::Relaxed) != OPEN
}

/// A job is live from here on.
pub fn live() {
    PEN.get_or_init(|| {
        let (to, texts) = channel();
        // Without a thread the job itself writes.
        std::thread::Builder::new().spawn(move || write_all(&texts)).ok().map(|_| to)
    });
}

/// Wait until all is written; once the program is to stop, not long.
pub fn flush() {
    wait_until(0, None);
}

/// The same, but for no longer than this.
pub fn flush_within(wait: Duration) {
    wait_until(0, Some(wait));
}

/// Where text for people goes: to stdout, unless that is for the JSON.
#[derive(Clone, Copy, Debug)]
pub struct Voice {
    /// Stdout is for one JSON object.
    pub json: bool,
}

impl Voice {
    /// Say a line to the person.
    pub fn say(self, line: &str) {
        if self.json { notice(line) } else { say_live(line) }
    }

    /// Print a result in the form that was asked for.
    pub fn result(self, human: &str, json: &str) {
        say_live(&if self.json { clean_json(json) } else { human.trim_end().into() });
    }
}

/// Write a line to stderr. If that fails there is nowhere left to say so.
pub fn notice(line: &str) {
    write(To::Err, clean(&format!("{}\n", spoken(line))).as_bytes());
}

fn end_if_closed() {
    if is_heard() {
        return;
    }
    flush();
    if closed() {
        std::process::exit(i32::from(STATE.load(Ordering::Relaxed)));
    }
}

fn write(to: To, bytes: &[u8]) {
    let heard = EAR.with_borrow_mut(|ear| ear.as_mut().map(|ear| ear(to, bytes)).is_some());
    if heard {
        return;
    }
    let Some(Some(pen)) = PEN.get() else { return write_now(to, bytes) };
    WAITING.fetch_add(bytes.len(), Ordering::SeqCst);
    // The thread ends with the program.
    let _ = pen.send((to, bytes.to_vec()));
    wait_until(WAITING_MAX, None);
}

fn write_all(texts: &Receiver<(To, Vec<u8>)>) {
    for (to, bytes) in texts {
        write_now(to, &bytes);
        WAITING.fetch_sub(bytes.len(), Ordering::SeqCst);
    }
}

fn wait_until(most: usize, longest: Option<Duration>) {
    let (began, mut since) = (Instant::now(), None);
    while WAITING.load(Ordering::SeqCst) > most {
        if stop::wanted() && since.get_or_insert_with(Instant::now).elapsed() > LAST_WAIT {
            return;
        }
        if longest.is_some_and(|longest| began.elapsed() > longest) {
            return;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn write_now(to: To, bytes: &[u8]) {
    if let To::Err = to {
        let _ = std::io::stderr().lock().write_all(bytes);
        return;
    }
    if closed() {
        return;
    }
    let mut out = std::io::stdout().lock();
    if let Err(error) = out.write_all(bytes).and_then(|()| out.flush()) {
        if error.kind() == ErrorKind::BrokenPipe {
            STATE.store(exit::OK, Ordering::Relaxed);
        } else {
            let words = format!("the output could not be written ({error})\n");
            let _ = std::io::stderr().lock().write_all(clean(&words).as_bytes());
            STATE.store(exit::STORAGE, Ordering::Relaxed);
        }
    }
}

/// What a terminal may take for an order, or shows otherwise than it stands: control characters,
/// and those that turn the writing direction or cannot be seen.
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{feff}')
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
        || matches!(c, '\u{2060}'..='\u{206f}' | '\u{fff9}'..='\u{fffb}')
        || matches!(c, '\u{e0000}'..='\u{e007f}')
}

/// Lines of text, safe for a terminal: whatever [`steers`] it becomes `?`, but for line ends and
/// tabs.
#[must_use]
pub fn clean(text: &str) -> Cow<'_, str> {
    let bad = |c: char| steers(c) && c != '\n' && c != '\t';
    if !text.contains(bad) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.replace("\r\n", "\n").replace(bad, "?"))
}

/// A JSON text, safe for a terminal and of the same meaning: outside its strings nothing of the
/// kind can stand, and inside them it is written as an escape (RFC 8259, section 7).
#[must_use]
pub fn clean_json(json: &str) -> String {
    let mut clean = String::with_capacity(json.len());
    for c in json.chars() {
        if steers(c) && !matches!(c, '\n' | '\t' | '\r') {
            let mut units = [0; 2];
            let units = c.encode_utf16(&mut units);
            clean.extend(units.iter().map(|unit| format!("\\u{unit:04x}")));
        } else {
            clean.push(c);
        }
    }
    clean
}

/// One short text from outside, safe for a terminal: whatever [`steers`] it becomes `?`; what is
/// longer than `most` characters is cut with `...`.
#[must_use]
pub fn scrub(text: &str, most: usize) -> String {
    let mut clean: String =
        text.chars().take(most).map(|c| if steers(c) { '?' } else { c }).collect();
    if text.chars().nth(most).is_some() {
        clean.push_str("...");
    }
    clean
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_from_outside_can_steer_the_terminal() {
        assert_eq!(scrub("a\x1b[2Jb\r\n\u{9b}c\u{202e}d", 80), "a?[2Jb???c?d");
        assert_eq!(scrub("\u{fc}ber 5 \u{b0}C", 80), "\u{fc}ber 5 \u{b0}C");
        assert_eq!(scrub("12345", 4), "1234...");
        assert_eq!(scrub("1234", 4), "1234");
        assert_eq!(clean("a\r\n\tb\x1b[2J\r\x7f\u{9b}\u{2066}\n"), "a\n\tb?[2J????\n");
        assert!(matches!(clean("a\n\tb \u{2588}"), Cow::Borrowed(_)));
    }

    #[test]
    fn what_a_page_asks_for_is_heard_whole_and_only_while_it_asks() {
        let (done, heard) = heard_whole(|| {
            say("a\x1bb");
            notice("c");
            say_bytes(b"\x01");
            is_heard()
        });
        assert!(done && !is_heard());
        assert_eq!((heard.out, heard.err), (b"a?b\n\x01".to_vec(), b"c\n".to_vec()));
        let broke = std::panic::catch_unwind(|| heard_whole(|| panic!("on purpose")));
        assert!(broke.is_err() && !is_heard());
    }

    #[test]
    fn json_means_the_same_when_it_is_safe() {
        let hostile = "a\x1b]52;c;aGk=\x07\x7f\u{9b}2J\u{202e}\u{e0041}\r\n\t\u{b0}";
        let json = serde_json::json!({ "note": hostile }).to_string();
        let safe = clean_json(&json);
        assert!(!safe.chars().any(steers), "{safe:?}");
        let read: serde_json::Value = serde_json::from_str(&safe).unwrap_or_default();
        assert_eq!(read["note"], hostile);
    }
}
