//! What is kept from job to job.
//!
//! | module | duty |
//! |---|---|
//! | [`place`] | where rigs and records are kept |
//! | [`settings`] | what need not be typed each time |
//! | [`register`] | rigs and signed-off records, in one SQLite file |
//! | [`kept`] | captures of signed-off records |
//! | [`backup`] | everything in one file, and back |

pub mod backup;
pub mod kept;
pub mod place;
pub mod register;
pub mod settings;
