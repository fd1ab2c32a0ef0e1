//! Has a rig's value changed?

use super::HistoryArgs;
use crate::commands::export::sound;
use crate::shell::exit::{FLAGGED, OK, Trouble};
use crate::shell::{files, out};
use crate::store::register::{Register, Wanted};
use trundle_core::history::{History, HistoryRefusal, history};
use trundle_core::result::history_points::{Which, points};
use trundle_core::result::history_v1::{self, HistoryFacts};
use trundle_show::html::history as history_html;
use trundle_show::text::history as history_text;

/// Each record of a rig against those before it, and the trend.
///
/// # Errors
/// Names (2), the register (4, 5), the page (6).
pub fn run(register: &Register, args: &HistoryArgs) -> Result<u8, Trouble> {
    let (found, facts, code) = of(register, args)?;
    out::say_either(
        args.json,
        || history_v1::to_json(&found, &facts),
        || history_text::render(&found, &facts),
    );
    if let Some(path) = &args.report {
        files::replace_page(path, &history_html::page(&found, &facts))?;
        out::notice(&format!("The page is in {}", path.display()));
    }
    Ok(if found.is_ok() && code == OK { OK } else { FLAGGED })
}

/// What a history holds, of which rig and sensor, and an exit code that says whether records were
/// skipped.
type Found = (Result<History, HistoryRefusal>, HistoryFacts, u8);

/// The page of a history, for browser and printer.
///
/// # Errors
/// Names (2), the register (4, 5).
pub fn page(register: &Register, args: &HistoryArgs) -> Result<String, Trouble> {
    of(register, args).map(|(found, facts, _)| history_html::page(&found, &facts))
}

fn of(register: &Register, args: &HistoryArgs) -> Result<Found, Trouble> {
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
    Ok((history(&points), facts, code))
}
