//! The whole job on a page: what each station shows, and what becomes of its forms.
//!
//! A form is a command: what was typed is read by the command's own reader and done by the same
//! function, so that the page has no rule and no sentence of its own.
//!
//! | module | duty |
//! |---|---|
//! | [`open`] | `trundle` without a command: serve the stations, open the browser |
//! | [`house`] | what all stations share: the job at hand, forms that are done, pages |
//! | [`table`] | every path, who may look and act, and which station answers |
//! | [`form`] | forms made of the options of commands |
//! | [`misread`] | what the command line refuses, in words of a page |
//! | [`keys`] | each form is done once |
//! | [`job`] | the job at hand, saved, so that it outlives page and program |
//! | [`live`] | a live command on a thread of its own, shown on the page |
//! | [`twice`] | forms that first show what they would do |
//! | [`long`] | what takes long and goes on by itself |
//! | [`captures`] | what was said in captures of the job |
//! | others | one station each |

pub mod captures;
pub mod close;
pub mod course;
pub mod devices;
pub mod drive;
pub mod exports;
pub mod form;
pub mod front;
pub mod house;
pub mod instance;
pub mod job;
pub mod keep;
pub mod keys;
pub mod live;
pub mod long;
pub mod measured;
pub mod misread;
pub mod open;
pub mod plugged;
pub mod practice;
pub mod recent;
pub mod records;
pub mod rig;
pub mod settings;
pub mod sheet;
pub mod sign;
pub mod start;
pub mod table;
#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
pub(crate) mod trial;
pub mod twice;
pub mod value;
