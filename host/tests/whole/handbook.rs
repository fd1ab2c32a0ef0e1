//! What shells, manuals and worried people ask of the program: completions, manual pages, doctor,
//! where things are, settings.

use crate::support::{Finished, TempDir, in_tree, json, trundle_in};

fn desk() -> (TempDir, String) {
    let folder = TempDir::new();
    let data = folder.file("data");
    (folder, data)
}

#[test]
fn a_shell_is_told_the_names_of_rigs_and_records() {
    let (_folder, data) = desk();
    for name in ["Big one", "Bigger one", "Small one"] {
        let args = ["rig", "add", name];
        assert_eq!(trundle_in(&args, &[("TRUNDLE_DATA", &data)]).code, Some(0));
    }
    let capture = in_tree("logs/simulated-rtk.capture").display().to_string();
    let signed = trundle_in(&["sign", &capture, "--json"], &[("TRUNDLE_DATA", &data)]);
    let id = json(&signed.stdout)["id"].as_str().unwrap().to_owned();
    let asked = |words: &[&str]| {
        let line = [&["--", "trundle"][..], words].concat();
        let end = trundle_in(&line, &[("TRUNDLE_DATA", &data), ("COMPLETE", "fish")]);
        assert_eq!(end.code, Some(0), "{}", end.stderr);
        end.stdout.lines().map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(asked(&["rig", "use", "Big"]), ["Big one", "Bigger one"]);
    assert_eq!(asked(&["record", "show", &id[..5]]), [id.as_str()]);
    assert!(asked(&["rig", "a"]).iter().any(|line| line.starts_with("add")));
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = trundle_in(&["completions", shell], &[]);
        assert_eq!(script.code, Some(0));
        assert!(script.stdout.contains("COMPLETE"), "{shell}: {}", script.stdout);
    }
}

#[test]
fn every_command_has_a_manual_page() {
    let folder = TempDir::new();
    let to = folder.file("man");
    assert_eq!(trundle_in(&["manual", &to], &[]).code, Some(0));
    for page in ["trundle", "trundle-drive", "trundle-rig-add", "trundle-record-verify"] {
        let text = std::fs::read_to_string(format!("{to}/{page}.1")).unwrap();
        assert!(text.contains(".SH NAME"), "{page}");
    }
}

#[test]
fn the_doctor_says_what_to_see_to() {
    let (_folder, data) = desk();
    let look = || trundle_in(&["doctor", "--no-ports", "--json"], &[("TRUNDLE_DATA", &data)]);
    let Finished { code, stdout, .. } = look();
    assert_eq!(code, Some(1));
    let point = |answer: &str, what: &str| {
        let points = json(answer)["points"].as_array().unwrap().clone();
        points.into_iter().find(|point| point["what"] == what).unwrap()
    };
    assert_eq!(point(&stdout, "active rig")["in_order"], false);
    assert!(point(&stdout, "active rig")["next"].as_str().unwrap().contains("rig add"));
    trundle_in(&["rig", "add", "Big one"], &[("TRUNDLE_DATA", &data)]);
    let well = look();
    assert_eq!(well.code, Some(0), "{}", well.stdout);
    assert_eq!(point(&well.stdout, "active rig")["found"], "Big one");
    std::fs::write(format!("{data}/register.db"), b"nonsense that is long enough to be read")
        .unwrap();
    let ill = look();
    assert_eq!((ill.code, &point(&ill.stdout, "register")["in_order"]), (Some(1), &false.into()));
}

#[test]
fn settings_name_folders_and_a_misspelt_one_is_not_passed_over() {
    let folder = TempDir::new();
    let data = folder.file("elsewhere");
    let text = format!("data = {data:?}\n");
    let settings = folder.write("settings.toml", text.as_bytes());
    let named = [("TRUNDLE_SETTINGS", settings.as_str()), ("TRUNDLE_DATA", "")];
    let told = trundle_in(&["where", "--json"], &named);
    assert_eq!(json(&told.stdout)["folder"], data);
    assert_eq!(json(&told.stdout)["chosen_by"], "the settings");
    // The option wins over the file.
    let option = folder.file("option");
    let told = trundle_in(&["where", "--json", "--data", &option], &named);
    assert_eq!(json(&told.stdout)["folder"], option);
    folder.write("settings.toml", b"bord = \"x\"\n");
    let told = trundle_in(&["where"], &named);
    assert_eq!(told.code, Some(2));
    assert!(told.stderr.contains("bord") && told.stderr.lines().count() >= 3, "{}", told.stderr);
}

/// `NO_COLOR` (no-color.org): help and errors carry no escape sequence, in a pipe or not.
#[test]
fn nothing_is_coloured_in_a_pipe() {
    for args in [&["--help"][..], &["drive", "--nonsense"], &["rig", "add", "--help"]] {
        for variables in [&[][..], &[("NO_COLOR", "1"), ("CLICOLOR_FORCE", "0")]] {
            let end = trundle_in(args, variables);
            assert!(!end.stdout.contains('\x1b') && !end.stderr.contains('\x1b'), "{args:?}");
        }
    }
}
