//! Slip as it goes out: map, page and files, read back by readers that are not ours.
//!
//! Outside sources: RFC 7946 through the crate `geojson`, GPX 1.1 through the crate `gpx`, RFC 4180
//! through the crate `csv`.

mod colour;
mod field;
mod sheet;

use field::field;
use geojson::{FeatureCollection, GeoJson, GeometryValue};
use std::sync::LazyLock;
use trundle_core::survey::slip::Slip;
use trundle_core::units::rfc3339;
use trundle_show::export::slip::{Origin, export};
use trundle_show::export::{Export, Format};
use trundle_sim::ReceiverClass;
use trundle_tests::headland::{drive, headland};

/// A simulated headland, and a field with everything in it.
pub static SLIPS: LazyLock<Vec<(&str, Slip)>> = LazyLock::new(|| {
    let driven = drive(&headland(ReceiverClass::Corrected), 1);
    vec![("headland", driven.slip().unwrap()), ("field", field())]
});

/// What goes out.
fn out(slip: &Slip) -> Export {
    let capture = "field & fence.capture".to_owned();
    export(&[(Origin { capture, ..Origin::default() }, slip.clone())])
}

fn text(slip: &Slip, format: Format) -> String {
    String::from_utf8(out(slip).bytes(format, false).unwrap()).unwrap()
}

/// Degrees, to less than 2 mm on the ground.
const NEAR_DEG: f64 = 1e-8;

#[test]
fn geojson_is_read_back() {
    for (name, slip) in SLIPS.iter() {
        let text = text(slip, Format::GeoJson);
        let GeoJson::FeatureCollection(FeatureCollection { features, .. }) = text.parse().unwrap()
        else {
            panic!("{name}: no collection");
        };
        assert_eq!(features.len(), slip.sections.len());
        for (feature, window) in features.iter().zip(&slip.sections) {
            let GeometryValue::LineString { coordinates } =
                &feature.geometry.as_ref().unwrap().value
            else {
                panic!("{name}: no line");
            };
            assert_eq!(coordinates.len(), window.line.len());
            for (position, (lat, lon)) in coordinates.iter().zip(&window.line) {
                // Longitude first: RFC 7946, 3.1.1.
                let [x, y] = position.as_slice() else { panic!("{name}: {position:?}") };
                assert!((x - lon).abs() < NEAR_DEG && (y - lat).abs() < NEAR_DEG);
            }
            let number = |key: &str| feature.property(key).unwrap().as_f64().unwrap();
            assert_eq!(number("slip"), window.slip);
            assert_eq!(number("standard_uncertainty"), window.standard_uncertainty);
            assert_eq!(number("length_m"), window.length_m);
            assert_eq!(number("ground_speed_m_s"), window.ground_speed_m_s);
            assert!((number("part") - f64::from(window.part)).abs() < 1e-9);
            let word = |key: &str| feature.property(key).unwrap().as_str().unwrap().to_owned();
            assert_eq!((word("kind"), word("utc")), kind_and_utc(window));
            assert_eq!(feature.property("in_work").unwrap().as_bool(), Some(window.in_work));
            let flags = feature.property("flags").unwrap().as_array().unwrap();
            assert_eq!(flags.len(), window.flags.len());
        }
    }
}

fn kind_and_utc(window: &trundle_core::survey::slip::Section) -> (String, String) {
    (window.kind.word().to_owned(), rfc3339(window.utc_ns))
}

#[test]
fn gpx_is_read_back() {
    for (name, slip) in SLIPS.iter() {
        let text = text(slip, Format::Gpx);
        let read = gpx::read(text.as_bytes()).unwrap();
        assert_eq!(read.version, gpx::GpxVersion::Gpx11);
        assert_eq!(read.tracks.len(), slip.parts.len(), "{name}: a track a leg");
        for (track, leg) in read.tracks.iter().zip(&slip.parts) {
            assert_eq!(track.number, Some(leg.number));
            assert_eq!(track.type_.as_deref(), Some(leg.kind.word()));
        }
        let segments: Vec<_> = read.tracks.iter().flat_map(|t| &t.segments).collect();
        assert_eq!(segments.len(), slip.sections.len(), "{name}: a segment a window");
        for (segment, window) in segments.iter().zip(&slip.sections) {
            assert_eq!(segment.points.len(), window.line.len());
            for (point, (lat, lon)) in segment.points.iter().zip(&window.line) {
                let at = point.point();
                assert!((at.x() - lon).abs() < NEAR_DEG && (at.y() - lat).abs() < NEAR_DEG);
            }
            let said = segment.points[0].description.as_deref().unwrap();
            let percent: f64 = said.split(' ').nth(1).unwrap().parse().unwrap();
            assert!((percent - 100.0 * window.slip).abs() < 0.0051, "{name}: {said}");
            let times: Vec<String> =
                segment.points.iter().map(|p| p.time.unwrap().format().unwrap()).collect();
            assert!(times.is_sorted(), "{name}: {times:?}");
        }
        // The crate passes extensions by; they stand in the order of the windows.
        let exact: Vec<f64> = text
            .split("<slip:section slip=\"")
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
            .collect();
        assert_eq!(exact.len(), slip.sections.len());
        assert!(exact.iter().zip(&slip.sections).all(|(s, w)| *s == w.slip));
    }
}

#[test]
fn csv_is_read_back() {
    for (name, slip) in SLIPS.iter() {
        let text = text(slip, Format::Csv);
        assert_eq!(text.matches("\r\n").count(), slip.sections.len() + 1, "{name}: RFC 4180, 2.1");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let names = reader.headers().unwrap().clone();
        let heads = out(slip).table.heads;
        assert!(names.iter().eq(heads.iter().map(|head| head.name)));
        let column = |name: &str| names.iter().position(|n| n == name).unwrap();
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(rows.len(), slip.sections.len());
        for (row, window) in rows.iter().zip(&slip.sections) {
            let number = |name: &str| row[column(name)].parse::<f64>().unwrap();
            assert_eq!(number("slip"), window.slip);
            assert_eq!(number("standard_uncertainty"), window.standard_uncertainty);
            assert_eq!((number("latitude_deg"), number("longitude_deg")), window.middle());
            assert_eq!(number("impulses"), window.impulses);
            assert_eq!(
                (row[column("kind")].into(), row[column("utc")].into()),
                kind_and_utc(window)
            );
            assert_eq!(&row[column("in_work")], window.in_work.to_string());
            let flags: Vec<&str> = window.flags.iter().map(|f| f.word()).collect();
            assert_eq!(row[column("flags")], flags.join(" "));
        }
    }
    // Slip below none keeps its minus, and stays a number.
    assert!(text(&field(), Format::Csv).contains(",-0.01,"));
}

#[test]
fn the_same_slip_gives_the_same_bytes() {
    for (name, slip) in SLIPS.iter() {
        // The program writes Parquet, and has its own check.
        for format in Format::ALL.into_iter().filter(|format| *format != Format::Parquet) {
            let bytes = |slip: &Slip| out(slip).bytes(format, false).unwrap();
            assert_eq!(bytes(slip), bytes(&slip.clone()), "{name}, {}", format.word());
        }
    }
}
