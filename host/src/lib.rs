//! Impulses per 100 m of a tractor's speed sensors, measured against tape and satellite, with
//! the doubt stated.

pub mod budget;
pub mod capture;
pub mod course;
pub mod fault;
pub mod figure;
pub mod fit;
pub mod geodesy;
pub mod record;
pub mod report;
pub mod session;
pub mod timeline;
pub mod wire;
