//! Draw the pictures of the README anew, into `host/pictures`: `make-pictures`.

use trundle_tests::{folder, pictures};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let into = folder().join("../host/pictures");
    std::fs::create_dir_all(&into)?;
    for (name, text) in pictures::all()? {
        std::fs::write(into.join(name), text)?;
    }
    Ok(())
}
