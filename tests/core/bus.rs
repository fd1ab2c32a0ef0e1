//! The implement bus: an adapter's lines, identifiers, values, senders, distances.

mod lines;
mod said;
