//! Tables as Apache Parquet, which the program writes.

use trundle::commands::export::bytes;
use trundle_show::export::{Format, passes, records};
use trundle_tests::signed::season;

#[test]
fn parquet_is_there_and_always_the_same() {
    let season = season();
    for export in [records::export(&season).unwrap(), passes::export(&season).unwrap()] {
        let written = bytes(&export, Format::Parquet, false).unwrap();
        // Apache Parquet, file format: the same four bytes at both ends.
        assert!(written.starts_with(b"PAR1") && written.ends_with(b"PAR1"));
        assert_eq!(written, bytes(&export.clone(), Format::Parquet, false).unwrap());
    }
    // A table without rows is a file all the same.
    let none = records::export(&[]).unwrap();
    assert!(bytes(&none, Format::Parquet, false).unwrap().ends_with(b"PAR1"));
}
