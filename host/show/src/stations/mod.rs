//! The whole job on a page: stations in the order of the work, each a page of forms and results.
//! Which there are stands in `words/station.rs`.
//!
//! | module | duty |
//! |---|---|
//! | [`frame`] | what every page has: the way through the job, notices, the station itself |
//! | [`parts`] | lists, lines of a result, cautions: what stations are made of |
//! | [`form`] | a form: fields with what was typed and what is wrong with it |

pub use maud::Markup;

pub mod form;
pub mod frame;
pub mod parts;
pub mod value;

/// Style sheet of the stations, after that of the live page.
pub const STYLE: &str = include_str!("stations.css");
/// Script of the stations.
pub const SCRIPT: &str = include_str!("stations.js");
