//! The commands, one file each. They read arguments, call the core and print.

pub mod active;
pub mod args;
pub mod check;
pub mod course;
pub mod demo;
pub mod doctor;
pub mod drive;
pub mod export;
pub mod guide;
pub mod handbook;
pub mod import;
pub mod keep;
pub mod mount;
pub mod parts;
pub mod ports;
pub mod pto;
pub mod record;
pub mod recording;
pub mod result;
pub mod sign;
pub mod slip;
pub mod speeds;
pub mod things;
pub mod typed;
pub mod work;
