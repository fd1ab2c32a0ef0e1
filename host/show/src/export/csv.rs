//! A table for spreadsheets: RFC 4180, UTF-8, a row a row, names in the first one.

use super::table::{Cell, Table, instant};

/// First characters that make a spreadsheet take a cell for a formula, and their full-width
/// variants, which some turn into the plain ones (OWASP, CSV injection).
const FORMULA: [char; 11] =
    ['=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

/// The table. With `raw` text goes out as it is; without, text that would begin a formula gets an
/// apostrophe before it. Numbers and instants are never touched, their minus neither.
pub fn write(table: &Table, raw: bool) -> Vec<u8> {
    let mut writer =
        ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::new());
    let mut put = |row: Vec<String>| {
        writer.write_record(&row).expect("rows of one length, written to memory");
    };
    put(table.heads.iter().map(|head| head.name.to_owned()).collect());
    for row in &table.rows {
        put(row.iter().map(|cell| shown(cell, raw)).collect());
    }
    writer.into_inner().expect("memory takes it all")
}

fn shown(cell: &Cell, raw: bool) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => words(text.clone(), raw),
        Cell::Words(list) => words(list.join(" "), raw),
        // The shortest digits that give the same double again.
        Cell::Number(number) => number.to_string(),
        Cell::Whole(number) => number.to_string(),
        Cell::Truth(truth) => truth.to_string(),
        Cell::Time(utc_us) => instant(*utc_us),
    }
}

fn words(text: String, raw: bool) -> String {
    if !raw && text.starts_with(FORMULA) { format!("'{text}") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_never_start_a_formula_unless_asked_for_raw() {
        for text in ["=1+1", "+1", "-1", "@a", "\tx", "\rx", "\nx", "＝1", "＋1", "－1", "＠a"]
        {
            let cell = Cell::Text(text.to_owned());
            assert_eq!(shown(&cell, false), format!("'{text}"));
            assert_eq!(shown(&cell, true), text);
        }
        assert_eq!(shown(&Cell::Text("5 - 3".to_owned()), false), "5 - 3");
        assert_eq!(shown(&Cell::Number(-0.1), false), "-0.1");
        assert_eq!(shown(&Cell::Whole(-3), false), "-3");
    }
}
