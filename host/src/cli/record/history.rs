//! Has a rig's figure changed?

use super::HistoryArgs;
use crate::cli::export::sound;
use crate::history::history;
use crate::record::history_points::{Which, points};
use crate::record::history_v1::{self, HistoryFacts};
use crate::report::{history_html, history_text};
use crate::shell::exit::{FLAGGED, OK, Trouble};
use crate::shell::{files, out};
use crate::store::register::{Register, Wanted};

/// Each record of a rig against those before it, and the trend.
///
/// # Errors
/// Names (2), the register (4, 5), the page (6).
pub fn run(register: &Register, args: &HistoryArgs) -> Result<u8, Trouble> {
    let (_, rig) = register.rig(args.rig.as_deref())?;
    let channel = args.channel.as_deref().or(rig.source()).unwrap_or("wheel");
    // A rig that goes by satellite has its wheel's history all the same.
    let channel = if channel == "satellite" { "wheel" } else { channel };
    let facts = HistoryFacts {
        rig: rig.rig.name.clone(),
        channel: channel.to_owned(),
        practice: args.practice,
    };
    let wanted = Wanted { rig: Some(facts.rig.clone()), ..Wanted::default() };
    let (records, code) = sound(register, &wanted)?;
    let which = Which { rig: &facts.rig, channel, practice: args.practice };
    let points = points(&records, which).map_err(|e| Trouble::internal(e.to_string()))?;
    let found = history(&points);
    if args.json {
        out::say(&history_v1::to_json(&found, &facts));
    } else {
        out::say_raw(&history_text::render(&found, &facts));
    }
    if let Some(path) = &args.report {
        files::replace(path, history_html::page(&found, &facts).as_bytes())?;
        out::tell(&format!("The page is in {}", path.display()));
    }
    Ok(if found.is_ok() && code == OK { OK } else { FLAGGED })
}
