//! All wording of the live screens, terminal and page, in one place so that it can be put into
//! another language: what happens and what is next, the screen in the terminal, the page. The
//! sentences of flags, which stand in results too, are in `trundle_core::flags::texts`.

pub mod book;
mod live;
pub mod opening;
pub mod packed;
pub(crate) mod page;
pub mod records;
mod screen;
pub mod settings;
pub mod station;
pub mod stations;
pub mod stations_course;
pub mod stations_drive;
pub mod stations_measured;
pub mod stations_misread;
pub mod stations_rig;
pub mod under_way;
pub mod version;

pub(crate) use live::*;
pub use live::{
    ENDED_BY_PAGE, ENDING, PRACTICE_RESULT, SCREEN_BROKE, TYPED, answer, happened, over,
    unfit_note, wrong,
};
pub(crate) use screen::*;
