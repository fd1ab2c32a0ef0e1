//! A capture that comes through the standard input.

use crate::support::{Finished, Program, TempDir, in_tree, json, trundle};

const SLIP: [&str; 2] = ["--zero-slip-value", "13224.7"];

fn fed(args: &[&str], bytes: &[u8]) -> Finished {
    let mut program = Program::start(args, &[]);
    program.takes(bytes);
    program.finish()
}

fn captures() -> Vec<Vec<u8>> {
    let read = |name: &str| std::fs::read(in_tree(&format!("logs/{name}.capture"))).unwrap();
    let whole: Vec<_> =
        ["simulated-rtk", "simulated-corrected", "joined-real-receiver"].map(read).into();
    let mut scratched = whole[0].clone();
    scratched[100_000..100_040].fill(0);
    let cut = whole[1][..150_001].to_vec();
    // Packed, sound and cut off.
    let mut packed = Vec::new();
    trundle::packed::pack::pack(&mut &whole[0][..], whole[0].len() as u64, &mut packed).unwrap();
    let short = packed[..packed.len() / 2].to_vec();
    [whole, vec![scratched, cut, packed, short]].concat()
}

#[test]
fn the_standard_input_gives_what_the_file_gives_to_the_byte() {
    let folder = TempDir::new();
    let mut states = std::collections::BTreeSet::new();
    for (number, bytes) in captures().iter().enumerate() {
        let file = folder.write(&format!("{number}.capture"), bytes);
        for (command, more) in [("work", &[][..]), ("slip", &SLIP[..])] {
            let of_file = trundle(&[&[command, &file, "--json"], more].concat());
            let piped = fed(&[&[command, "-"], more].concat(), bytes);
            assert_eq!(piped.stdout, of_file.stdout, "{command} of {number}");
            assert_eq!((piped.code, &piped.stderr), (of_file.code, &of_file.stderr));
            let state = json(&piped.stdout)["state"].as_str().map(str::to_owned);
            states.insert((command, state, piped.code));
        }
    }
    // Sound, flagged and refused ones were among them.
    assert!(states.len() >= 3, "{states:?}");
}

#[test]
fn with_its_origin_a_document_stays_what_it_is() {
    for bytes in captures() {
        let plain = fed(&["work", "-"], &bytes);
        let with = fed(&["work", "-", "--with-origin"], &bytes);
        assert_eq!(with.code, plain.code);
        let origin = json(&with.stdout);
        assert_eq!(origin["format"], "trundle-origin");
        assert_eq!(format!("{}\n", origin["document"].as_str().unwrap()), plain.stdout);
        let began = origin["started_utc"].as_str().unwrap();
        assert!(began.starts_with("20") && began.ends_with('Z'), "{began}");
        assert!(origin["practice"].is_boolean() && origin["rig"].is_null());
    }
}

#[test]
fn what_is_no_capture_is_told_as_of_a_file_and_nothing_is_printed() {
    let sound = std::fs::read(in_tree("logs/simulated-rtk.capture")).unwrap();
    for (args, bytes, code, said) in [
        (&["work", "-"][..], &b""[..], 5, "is empty"),
        (&["work", "-"], b"$GPGGA,1,2,3\r\n", 5, "is not a capture"),
        (&["work", "-"], &vec![0; 3 << 20], 5, "is not a capture"),
        (&["slip", "-", SLIP[0], SLIP[1]], b"words", 5, "is not a capture"),
        (&["work", "-", "--report", "x.html"], &sound, 2, "--report"),
        (&["slip", "-", SLIP[0], SLIP[1], "--csv", "x.csv"], &sound, 2, "--csv"),
        (&["work", "-", "--course", "none.toml"], &sound, 5, "none.toml"),
    ] {
        let done = fed(args, bytes);
        assert_eq!((done.code, done.stdout.as_str()), (Some(code), ""), "{args:?} {}", done.stderr);
        assert!(done.stderr.contains(said), "{args:?}: {}", done.stderr);
    }
}
