//! Results as pages for browser and paper: a document in, one page out that loads nothing.

pub(crate) mod head;
pub mod history;
pub(crate) mod page;
pub mod plain;
pub mod record;
pub mod record_short;
pub mod settings;
pub mod slip;
pub mod work;
pub use page::{with_handbook, with_notice, with_way_back};
