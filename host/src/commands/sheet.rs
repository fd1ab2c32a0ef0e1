//! `trundle sheet`: the sheet of settings of a rig, from its records.

use super::record::paper;
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{FLAGGED, OK, Trouble};
use crate::shell::{files, out};
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use std::path::PathBuf;
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::result::settings_of::{Ground, Listed, settings};
use trundle_core::result::settings_v1::SettingsV1;
use trundle_show::html::settings as settings_html;
use trundle_show::text::settings as settings_text;

/// Which rig's sheet, and where to.
#[derive(Debug, clap::Args)]
pub struct SheetArgs {
    /// The rig; the active one if not given.
    #[arg(value_name = "RIG", add = super::handbook::rigs())]
    pub rig: Option<String>,
    /// Also write a page to print, one sheet; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Size of the sheet.
    #[arg(long, value_name = "SHEET", default_value = "a4", value_parser = ["a4", "letter"],
        ignore_case = true)]
    pub paper: String,
    /// Name of a sheet printed before, as at its foot: is it still the one of today?
    #[arg(long, value_name = "NAME")]
    pub printed: Option<String>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Draw it; gives the exit code: 1 when it is out of date, or the sensor in force has no value.
///
/// # Errors
/// Names (2), the register (4, 5), the page (6).
pub fn run(args: &SheetArgs) -> Result<u8, Trouble> {
    let sheet = of(args)?;
    out::say_either(args.json, || sheet.to_json(), || settings_text::render(&sheet));
    if let Some(path) = &args.report {
        files::replace_page(path, &page(&sheet, args))?;
        out::notice(&format!("The page is in {}", path.display()));
    }
    Ok(if sheet.state == "current" { OK } else { FLAGGED })
}

/// The sheet as a page for browser and printer.
#[must_use]
pub fn page(sheet: &SettingsV1, args: &SheetArgs) -> String {
    settings_html::page(sheet, paper(&args.paper))
}

/// What the sheet says.
///
/// # Errors
/// Names (2), the register (4, 5).
pub fn of(args: &SheetArgs) -> Result<SettingsV1, Trouble> {
    let register = Register::read(&DataFolder::in_force()?)?;
    let (_, rig) = register.rig(args.rig.as_deref())?;
    let active = register.active()?.map(|rig| register.snapshot(&rig.entry)).transpose()?;
    let records = listed(&register, &rig.rig.name)?;
    Ok(settings(&Ground {
        rig: &rig,
        active: active.as_ref(),
        records: &records,
        made_utc: &wall_rfc3339(),
        printed: args.printed.as_deref(),
    }))
}

/// The records of a rig, and those that may be any; what cannot be read is damaged.
fn listed(register: &Register, rig: &str) -> Result<Vec<Listed>, Trouble> {
    let wanted = Wanted { rig: Some(rig.to_owned()), ..Wanted::default() };
    let read = |mut row: RecordRow| {
        if row.state == DAMAGED {
            return Listed { row, record: None };
        }
        match register.whole_record(&row.id) {
            Ok(record) => Listed { row, record: Some(record) },
            Err(trouble) => {
                row.damage.get_or_insert(trouble.what);
                Listed { row, record: None }
            }
        }
    };
    Ok(register.records(&wanted)?.into_iter().map(read).collect())
}
