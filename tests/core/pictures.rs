//! The pictures of the README.

use trundle_tests::{folder, pictures};

#[test]
fn the_stored_pictures_are_what_the_program_draws_now() {
    for (name, drawn) in pictures::all().unwrap() {
        let stored = std::fs::read_to_string(folder().join("../host/pictures").join(name)).unwrap();
        assert!(stored == drawn, "{name}: draw it again with the program make-pictures");
    }
}
