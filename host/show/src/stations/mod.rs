//! The whole job on a page: stations in the order of the work, each a page of forms and results.
//! Which there are stands in `words/station.rs`.
//!
//! | module | duty |
//! |---|---|
//! | [`frame`] | what every station's page has: the way through the job, notices, the station |
//! | [`frame`] | what every page has: the way through the job, notices, the station itself |
//! | [`parts`] | lists, lines of a result, cautions: what stations are made of |
//! | [`measured`] | results of what is measured beside the course |
//! | [`opening`] | the first station |
//! | [`set`] | settings and other devices |
//! | [`refused`] | the page of whoever is not let in |
//! | [`records`] | lists of records, ways to what there is of them |
//! | [`form`] | a form: fields with what was typed and what is wrong with it |
//! | [`rig`] | rigs and what they are made of, and the antenna from above |
//! | [`course`] | a taped course and a plan |

pub use maud::Markup;

pub mod course;
pub mod form;
pub mod frame;
pub mod measured;
pub mod opening;
pub mod parts;
pub mod records;
pub mod refused;
pub mod rig;
pub mod set;
pub mod value;

/// Style sheet of the stations, after that of the live page.
pub const STYLE: &str = include_str!("stations.css");
/// Script of the stations.
pub const SCRIPT: &str = include_str!("stations.js");
