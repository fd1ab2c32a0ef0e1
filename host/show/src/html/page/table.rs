//! Tables that become lists on a narrow page.
//!
//! On a phone each row turns into a block of named lines, by style alone. A browser that lays a
//! table out as blocks forgets that it was one, so the roles are written out.

use maud::{Markup, html};

/// A column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its heading, repeated before each value on a narrow page.
    pub name: &'static str,
    /// Holds numbers: set to the right.
    pub numeric: bool,
}

/// Columns of words.
pub fn words<const N: usize>(names: [&'static str; N]) -> Vec<Column> {
    names.map(|name| Column { name, numeric: false }).to_vec()
}

/// Columns of numbers.
pub fn numbers<const N: usize>(names: [&'static str; N]) -> Vec<Column> {
    names.map(|name| Column { name, numeric: true }).to_vec()
}

/// A table; the first cell of each row names the row. `look` is a class for the style sheet.
pub fn table(look: &str, caption: &Markup, columns: &[Column], rows: &[Vec<Markup>]) -> Markup {
    html! {
        table role="table" class=(look) {
            caption { (caption) }
            thead role="rowgroup" {
                tr role="row" {
                    @for column in columns {
                        th role="columnheader" scope="col" class=[class(column)] { (column.name) }
                    }
                }
            }
            tbody role="rowgroup" {
                @for row in rows { (table_row(columns, row)) }
            }
        }
    }
}

fn table_row(columns: &[Column], cells: &[Markup]) -> Markup {
    html! {
        tr role="row" {
            @for (at, (column, cell)) in columns.iter().zip(cells).enumerate() {
                @if at == 0 {
                    th role="rowheader" scope="row" class=[class(column)]
                        data-label=(column.name) { (cell) }
                } @else {
                    td role="cell" class=[class(column)] data-label=(column.name) {
                        span { (cell) }
                    }
                }
            }
        }
    }
}

fn class(column: &Column) -> Option<&'static str> {
    column.numeric.then_some("num")
}
