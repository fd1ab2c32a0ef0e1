//! Lines, means and tests (`fit`); quantities that carry their sources of uncertainty (`budget`).

pub mod budget;
pub mod fit;
