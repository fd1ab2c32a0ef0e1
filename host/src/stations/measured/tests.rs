//! A browser without one, at the stations at which something is measured.

use super::look;
use crate::stations::trial::{Trial, capture, form};
use crate::web::stations::{Reply, Visit};
use trundle_show::words::stations_measured as measured;

fn sent(page: &str, other: &[(&str, &str)]) -> Vec<(String, String)> {
    form(page, measured::CALCULATE, other)
}

#[test]
fn a_capture_gives_the_same_result_as_the_command_with_its_drawing_and_its_paper() {
    let trial = Trial::begin();
    let page = trial.page("/speeds");
    let capture = capture();
    let done = trial.act("/speeds/work", &sent(&page, &[("recorded", &capture)]));
    assert!(matches!(&done, Reply::See(path) if path.starts_with("/speeds?did=")), "{done:?}");
    let page = trial.page("/speeds");
    let said = trial.run(&["speeds", &capture]).lines();
    let headline = said[0].trim_start_matches("SPEEDS: ");
    let large = headline.split(" (").next().unwrap();
    assert!(page.contains("verdict") && page.contains(large), "{large}: {page}");
    assert!(matches!(trial.look("/speeds/drawing"), Reply::Drawing(svg) if svg.contains("<svg")));
    assert!(
        matches!(trial.look("/speeds/paper"), Reply::Paper(page) if page.contains("<!DOCTYPE"))
    );
}

#[test]
fn what_cannot_be_calculated_is_said_and_nothing_typed_is_lost() {
    let trial = Trial::begin();
    let page = trial.page("/pto");
    for (typed, status) in [("", 422), ("/nowhere/at.all", 422)] {
        let other = [("recorded", typed), ("chosen", ""), ("set-now", "6.5")];
        let Reply::Page(given, again) = trial.act("/pto/work", &sent(&page, &other)) else {
            panic!("{typed} was calculated")
        };
        assert_eq!(given, status, "{typed}");
        assert!(again.contains("value=\"6.5\"") && again.contains(typed), "{again}");
    }
    let wrong = [("recorded", &*capture()), ("set-now", "many")];
    let Reply::Page(422, again) = trial.act("/pto/work", &sent(&page, &wrong)) else {
        panic!("many impulses were understood")
    };
    assert!(again.contains("aria-invalid=\"true\"") && again.contains("value=\"many\""), "{again}");
}

#[test]
fn whoever_only_looks_sees_the_result_and_no_form() {
    let trial = Trial::begin();
    let page = trial.page("/antenna");
    trial.act("/antenna/work", &sent(&page, &[("recorded", &capture())]));
    for path in ["/antenna", "/bus", "/slip", "/proof", "/check"] {
        let visit = Visit { path: path.to_owned(), query: Vec::new(), role: None, inside: true };
        let Reply::Page(200, page) = look(&trial.house, &visit) else { panic!("no page: {path}") };
        assert!(!page.contains("<form"), "{path}: {page}");
        assert_eq!(page.contains("verdict"), path == "/antenna", "{path}: {page}");
    }
}
