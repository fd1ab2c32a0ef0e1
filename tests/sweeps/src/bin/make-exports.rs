//! Write invented records and their passes in every format of tables, for readers that are not
//! ours.
//!
//! `cargo run --release -p trundle-sweeps --bin make-exports -- FOLDER`
//!
//! Records come in two files, as if two laptops had exported them. Beside them stands the schema
//! as the columns ask for it, to be committed where a column was added.

#![allow(clippy::print_stdout)]

use std::path::Path;
use trundle::commands::export::bytes;
use trundle_show::export::{Export, Format, passes, records};
use trundle_tests::export_schema;
use trundle_tests::signed::season;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name the folder to write to")?;
    let season = season();
    let (first, second) = season.split_at(6);
    let write = |name: &str, export: &Export| -> Result<(), Box<dyn std::error::Error>> {
        for format in [Format::Csv, Format::Json, Format::Parquet] {
            let file = Path::new(&folder).join(format!("{name}.{}", format.word()));
            std::fs::write(file, bytes(export, format, false)?)?;
        }
        println!("{name}: {} rows", export.table.rows.len());
        Ok(())
    };
    write("records-1", &records::export(first)?)?;
    write("records-2", &records::export(second)?)?;
    write("passes", &passes::export(&season)?)?;
    let schema = serde_json::to_string_pretty(&export_schema::schema())? + "\n";
    std::fs::write(Path::new(&folder).join("trundle-export-1.schema.json"), schema)?;
    Ok(())
}
