//! Results as text for the terminal: a document in, text out; the caller prints it.

pub mod bench;
pub mod bus;
pub mod check;
pub mod compare;
pub mod course;
pub mod history;
pub(crate) mod lines;
pub mod mount;
pub mod proof;
pub mod pto;
pub mod record;
pub mod records;
pub mod register;
pub mod settings;
pub mod slip;
pub mod speeds;
pub mod work;
