//! Things that are kept, for the terminal.

use trundle_core::rig::{Entry, Thing, steers};

/// Longest value shown in a list, characters.
const BRIEF: usize = 60;

/// All of a kind, one line each.
#[must_use]
pub fn list(thing: Thing, entries: &[Entry], active: Option<&str>) -> String {
    let word = thing.word();
    if entries.is_empty() {
        let noun = thing.noun();
        return format!("There is no {noun} yet. Add one with `trundle {word} add NAME`.\n");
    }
    let wide = entries.iter().map(|e| e.name.chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    for entry in entries {
        let mark = if active == Some(entry.name.as_str()) { "* " } else { "  " };
        let mark = if thing == Thing::Rig { mark } else { "" };
        let fields = thing.fields().iter().filter(|field| field.key != "note");
        let known: Vec<String> = fields
            .filter_map(|field| entry.values.get(field.key).map(|value| field.show(value)))
            .collect();
        let known = brief(&safe(&known.join(", ")));
        let line = format!("{mark}{:wide$}  {known}", safe(&entry.name));
        text.push_str(line.trim_end());
        text.push('\n');
    }
    if active.is_some() {
        text.push_str("* is the active rig.\n");
    }
    text
}

/// Everything that is known about one.
#[must_use]
pub fn entry(thing: Thing, entry: &Entry) -> String {
    let mut text = format!("{}\n", safe(&entry.name));
    let fields = thing.fields().iter().filter_map(|f| entry.values.get(f.key).map(|v| (f, v)));
    for (field, value) in fields {
        text.push_str(&format!("  {}: {}\n", field.label, safe(&field.show(value))));
    }
    text
}

fn brief(text: &str) -> String {
    let mut cut: String = text.chars().take(BRIEF).collect();
    if text.chars().count() > BRIEF {
        cut.push_str("...");
    }
    cut
}

/// Whatever stands in the register, nothing in it can steer the terminal.
pub(super) fn safe(text: &str) -> String {
    text.chars().map(|c| if steers(c) { '?' } else { c }).collect()
}
