//! The sheet of settings for the terminal: what speaks against it first, then number by number.

use super::lines::wrap;
use crate::phrases::plain::line;
use crate::phrases::settings::{
    TITLE, again, half, in_force, name, named, number, origin, sentence, standing, tyres,
};
use std::fmt::Write as _;
use trundle_core::result::settings_v1::{SettingV1, SettingsV1, SourceV1};

/// The sheet as text of at most 100 columns where its words allow, ending with a line end.
#[must_use]
pub fn render(sheet: &SettingsV1) -> String {
    let mut out = String::new();
    if sheet.practice {
        out.push_str("PRACTICE: from the simulator; nothing was measured. Key none of it in.\n");
    }
    let standing = standing(sheet).map(|(word, means)| format!(": {word}, {means}"));
    let standing = standing.unwrap_or_default();
    let _ = writeln!(out, "{TITLE} {}{standing}", line(&sheet.id));
    for remark in sheet.out_of_date.iter().chain(&sheet.remarks) {
        let _ = writeln!(out, "  {}", sentence(remark));
    }
    let _ = writeln!(
        out,
        "Rig {}; tractor {}; tyres {}",
        line(&sheet.rig),
        named(sheet.tractor.as_deref()),
        tyres(sheet)
    );
    let _ = writeln!(out, "Implement speed from: {}", in_force(sheet));
    if let Some(source) = sheet.missing.iter().find(|one| one.code == "source") {
        let _ = writeln!(out, "  {}", line(&source.next));
    }
    out.push('\n');
    sheet.settings.iter().for_each(|one| setting(&mut out, sheet, one));
    let _ = writeln!(out, "\n± at {:.0} %. {}", 100.0 * sheet.coverage_probability, again(sheet));
    wrap(&out.replace('\u{a0}', " "))
}

fn setting(out: &mut String, sheet: &SettingsV1, one: &SettingV1) {
    let (what, force) = name(one);
    let force = if force.is_empty() { String::new() } else { format!(", {force}") };
    if one.source == SourceV1::Missing {
        let next = sheet.missing.iter().find(|missing| missing.code == one.key);
        let next = next.map(|missing| line(&missing.next)).unwrap_or_default();
        let _ = writeln!(out, "{what}{force}: NOT KNOWN\n    {next}");
        return;
    }
    let key_in = number(one).map_or("no clear number".to_owned(), |number| {
        format!("{}{number} {}", if sheet.practice { "PRACTICE " } else { "key in " }, one.unit)
    });
    let half = half(one)
        .map(|half| format!(" ({half}{})", if one.uncertainty_assumed { ", assumed" } else { "" }));
    let _ = writeln!(out, "{what}{force}: {key_in}{}", half.unwrap_or_default());
    let signs = one.signs.as_deref().map(|signs| format!("; {}", line(signs)));
    let (how, record) = origin(one);
    let record = record.map(|id| format!(", record {id}")).unwrap_or_default();
    let _ = writeln!(out, "    {how}{record}{}", signs.unwrap_or_default());
    for note in &one.notes {
        let _ = writeln!(out, "    {}", line(note));
    }
}
