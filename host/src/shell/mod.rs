//! The world: ports, files, clocks, signals, terminal output.
//!
//! Everything outside this folder and `cli/` is a function of its arguments. Here bytes are
//! stamped once with the host's monotonic clock, appended to the capture, and only then fed to
//! the session; nothing in here knows what a count means.
//!
//! | module | duty |
//! |---|---|
//! | [`clock`] | monotonic time since the capture began, and the wall clock |
//! | [`out`] | every word that goes to the terminal |
//! | [`exit`] | exit codes, and errors in three lines |
//! | [`stop`] | Ctrl-C and the wish to stop |
//! | [`com`] | names of ports as Windows writes them, and their order |
//! | [`ports`] | which ports there are, and opening one with a reason if it cannot be |
//! | [`holder`] | which program holds a port |
//! | [`content`] | what the bytes of a port say about what is behind it |
//! | [`probe`] | opening a port to find that out |
//! | [`choose`] | which port plays which part |
//! | [`judge`] | is what comes from an open port what its part sends |
//! | [`search`] | where to look for a port that is lost |
//! | [`serial`] | one thread a port: read, stamp, hand on, open again |
//! | [`storage`] | the disk, and the seam where tests put another |
//! | [`files`] | small files, read and written whole |
//! | [`settings`] | what need not be typed each time |
//! | [`place`] | where rigs and records are kept |
//! | [`register`] | rigs and signed-off records, in one SQLite file |
//! | [`kept`] | captures of signed-off records |
//! | [`progress`] | how far something long has come |
//! | [`backup`] | everything in one file, and back |
//! | [`capture_file`] | writing the capture, synced on a thread of its own |
//! | [`capture_read`] | reading a capture from disk |
//! | [`replay`] | a whole capture into a session, a long one by two threads |
//! | [`lines`] | what is typed, stamped when it came |
//! | [`live`] | a live job |
//! | `live_types` | what a live job is given, and what it tells |
//! | `live_state` | what both sides of a live job see |
//! | `live_core` | the thread that records and feeds |
//! | [`live_fit`] | whether a pass may be started |
//! | [`live_view`] | a live job as a screen takes it |
//! | [`page`] | the live page, served to a phone or tablet |
//! | [`terminal`] | the terminal as a screen, and the way back |

pub mod backup;
pub mod capture_file;
pub mod capture_read;
pub mod choose;
pub mod clock;
pub mod com;
pub mod content;
pub mod exit;
pub mod files;
pub mod holder;
pub mod judge;
pub mod kept;
pub mod lines;
pub mod live;
mod live_core;
pub mod live_fit;
mod live_state;
mod live_types;
pub mod live_view;
pub mod out;
pub mod page;
pub mod place;
pub mod ports;
pub mod probe;
pub mod progress;
pub mod register;
pub mod replay;
pub mod search;
pub mod serial;
pub mod settings;
pub mod stop;
pub mod storage;
pub mod terminal;
