//! What is saved from job to job.
//!
//! | module | duty |
//! |---|---|
//! | [`place`] | where rigs and records are saved |
//! | [`settings`] | what need not be typed each time |
//! | [`settings_file`] | that file, written |
//! | [`register`] | rigs and signed-off records, in one SQLite file |
//! | [`captures`] | captures of signed-off records |
//! | [`backup`] | everything in one file, and back |

pub mod backup;
pub mod captures;
pub mod place;
pub mod register;
pub mod settings;
pub mod settings_file;
