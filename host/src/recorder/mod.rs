//! Recording: bytes are stamped once with the host's monotonic clock, appended to the capture, and
//! only then fed to the session; nothing in here knows what a count means.
//!
//! | module | duty |
//! |---|---|
//! | [`capture_file`] | writing the capture, synced on a thread of its own |
//! | [`capture_read`] | reading a capture from disk |
//! | [`replay`] | a whole capture into a session, a long one by two threads |
//! | [`live`] | a live job |
//! | `head` | what a live job begins with: open ports, the capture's head |
//! | `types` | what a live job is given, and what it reports |
//! | `state` | what both sides of a live job see |
//! | `thread` | the thread that records and feeds |

pub mod capture_file;
pub mod capture_read;
mod head;
pub mod live;
pub mod replay;
mod state;
mod thread;
mod types;
