//! Print the sample records for the eye and for the checks of paper: `paper-samples FOLDER`.
//!
//! Each record gives `NAME.html`, `NAME.short.html`, `NAME.txt` and `NAME.json`; each sheet of
//! settings, whose name begins with `sheet-`, the same but for the short form.

#![allow(clippy::print_stdout)]

use std::path::PathBuf;
use trundle_show::html::settings as settings_html;
use trundle_show::html::{record as record_html, record_short as record_short_html};
use trundle_show::text::{record as record_text, settings as settings_text};
use trundle_tests::papers::samples;
use trundle_tests::sheets::sheets;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args_os().nth(1).map(PathBuf::from);
    let folder = folder.ok_or("which folder? paper-samples FOLDER")?;
    std::fs::create_dir_all(&folder)?;
    for sample in samples() {
        let (record, facts) = (&sample.record, &sample.facts);
        let work = record.worked()?;
        let forms = [
            ("html", record_html::page(record, work.as_ref(), facts)),
            ("short.html", record_short_html::page(record, work.as_ref(), facts)),
            ("txt", record_text::render(record, work.as_ref(), facts)),
            ("json", record.to_json()),
        ];
        for (end, text) in forms {
            std::fs::write(folder.join(format!("{}.{end}", sample.name)), text)?;
        }
        println!("{} {}", sample.name, record.id);
    }
    for sample in sheets() {
        let sheet = &sample.sheet;
        let forms = [
            ("html", settings_html::page(sheet, sample.paper)),
            ("txt", settings_text::render(sheet)),
            ("json", sheet.to_json()),
        ];
        for (end, text) in forms {
            std::fs::write(folder.join(format!("{}.{end}", sample.name)), text)?;
        }
        println!("{} {}", sample.name, sheet.id);
    }
    Ok(())
}
