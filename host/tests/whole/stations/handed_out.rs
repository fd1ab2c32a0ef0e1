//! What the stations hand out of a record.

use super::forms::Page;
use super::house::House;
use crate::support::in_tree;

/// The capture of a record is saved packed, and handed out as the record names it.
#[test]
fn the_capture_of_a_record_is_handed_out_plain() {
    let house = House::start();
    house.fill();
    let plain = std::fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    let saved: Vec<Vec<u8>> = house
        .state()
        .into_iter()
        .filter_map(|(path, bytes)| path.ends_with(".capture").then_some(bytes))
        .collect();
    assert!(saved.len() == 1 && saved[0].len() * 3 < plain.len(), "{} files", saved.len());
    let list = Page::read(&house.get("/records").body);
    let records = list.links.iter().filter(|link| link.starts_with("/records/"));
    let links = records.flat_map(|link| Page::read(&house.get(link).body).links);
    let file = links.into_iter().find(|link| link.contains("=capture")).unwrap();
    let answer = house.get(&file.replace("&amp;", "&"));
    assert_eq!(answer.status, 200, "{}", answer.head);
    assert_eq!(answer.header("content-length"), Some(plain.len().to_string().as_str()));
    // The client makes text of it; both have gone the same way.
    assert!(answer.body == String::from_utf8_lossy(&plain), "other bytes");
}
