//! Bytes to frames and fixes.
//!
//! This stage knows the two wires, the board's frames and the receiver's sentences, and nothing
//! of courses or values. Faults in the data are counted and reported; they never stop the reading.

pub mod board;
pub mod clock_offset;
pub mod fields;
pub mod fix;
mod fix_date;
mod fix_epoch;
pub mod gate;
pub mod import_counts;
pub mod import_rows;
pub mod nmea_splitter;
pub mod receiver;
mod said_before;
pub mod sentence;
pub mod sky;
mod time_of_day;
mod vtg_place;
mod words;
