//! The udev rules that the package installs: who may open the ports, and that they touch nothing
//! but the ports that can be ours.
//!
//! Form of the rules: udev(7). Numbers of USB classes: USB-IF, Defined Class Codes, and its CDC
//! PSTN subclass (02:02 abstract control model; protocol 01 with modem commands).

const FILE: &str = "70-trundle.rules";

fn text() -> String {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../host/package");
    let found: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".rules"))
        .collect();
    assert_eq!(found, [FILE]);
    std::fs::read_to_string(folder.join(FILE)).unwrap()
}

/// One part of a rule: key, operator, value.
type Part = (String, String, String);

/// The rules, one a line. Strict: anything that is not of the form of udev(7) fails.
fn rules() -> Vec<Vec<Part>> {
    let text = text();
    let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines.map(|line| line.split(", ").map(part).collect()).collect()
}

fn part(word: &str) -> Part {
    let at = word.find(['=', '!', '+']).unwrap_or_else(|| panic!("no operator: {word}"));
    let (key, rest) = word.split_at(at);
    let quote = rest.find('"').unwrap_or_else(|| panic!("no value: {word}"));
    let (operator, value) = rest.split_at(quote);
    assert!(["==", "!=", "=", "+="].contains(&operator), "operator of {word}");
    let value = value.strip_prefix('"').and_then(|v| v.strip_suffix('"'));
    let value = value.unwrap_or_else(|| panic!("not quoted: {word}"));
    assert!(!value.contains('"'), "two values: {word}");
    (key.to_owned(), operator.to_owned(), value.to_owned())
}

/// A pattern with `|` between its alternatives, `[0-9]` and `*`, as udev(7) has them.
fn fits(pattern: &str, value: &str) -> bool {
    fn one(pattern: &str, value: &str) -> bool {
        if let Some(rest) = pattern.strip_prefix("[0-9]") {
            return value.starts_with(|c: char| c.is_ascii_digit()) && one(rest, &value[1..]);
        }
        match pattern.chars().next() {
            None => value.is_empty(),
            Some('*') => (0..=value.len()).any(|n| one(&pattern[1..], &value[n..])),
            Some(c) => {
                value.strip_prefix(c).is_some_and(|rest| one(&pattern[c.len_utf8()..], rest))
            }
        }
    }
    pattern.split('|').any(|pattern| one(pattern, value))
}

/// A device as udev sees it, and what the rules give it.
fn given(device: &[(&str, &str)]) -> Vec<String> {
    let value = |key: &str| device.iter().find(|(k, _)| *k == key).map_or("", |(_, v)| v);
    let mut out = Vec::new();
    for rule in rules() {
        let holds = |(key, operator, pattern): &Part| match operator.as_str() {
            "==" => fits(pattern, value(key)),
            "!=" => !fits(pattern, value(key)),
            _ => true,
        };
        if !rule.iter().all(holds) {
            continue;
        }
        for (key, operator, value) in &rule {
            match (key.as_str(), operator.as_str()) {
                ("GOTO", "=") => return out,
                ("LABEL", _) | (_, "==" | "!=") => {}
                _ => out.push(format!("{key}{operator}{value}")),
            }
        }
    }
    out
}

const OPEN: [&str; 3] = ["TAG+=uaccess", "ENV{ID_MM_DEVICE_IGNORE}=1", "ENV{ID_MM_PORT_IGNORE}=1"];

fn tty(name: &'static str, interfaces: &'static str, driver: &'static str) -> Vec<String> {
    given(&[
        ("ACTION", "add"),
        ("SUBSYSTEM", "tty"),
        ("KERNEL", name),
        ("ENV{ID_USB_INTERFACES}", interfaces),
        ("ENV{ID_USB_DRIVER}", driver),
    ])
}

fn usb(kind: &'static str, interfaces: &'static str) -> Vec<String> {
    given(&[
        ("ACTION", "add"),
        ("SUBSYSTEM", "usb"),
        ("ENV{DEVTYPE}", kind),
        ("ENV{ID_USB_INTERFACES}", interfaces),
    ])
}

#[test]
fn the_file_comes_before_the_rules_that_grant_access() {
    let number: u32 = FILE.split('-').next().unwrap().parse().unwrap();
    // systemd: 73-seat-late.rules runs `uaccess` on what is tagged by then.
    assert!(number < 73);
}

#[test]
fn nobody_but_who_sits_there_gains_anything_and_no_maker_is_claimed() {
    let mut tagged = 0;
    for (key, operator, value) in rules().into_iter().flatten() {
        let assigns = operator != "==" && operator != "!=";
        let ours = ["TAG", "ENV{ID_MM_DEVICE_IGNORE}", "ENV{ID_MM_PORT_IGNORE}", "GOTO", "LABEL"];
        // So no MODE, GROUP, OWNER, RUN or PROGRAM either.
        assert!(!assigns || ours.contains(&key.as_str()), "{key}{operator}{value}");
        for number in ["idVendor", "idProduct", "VENDOR", "MODEL", "PRODUCT"] {
            assert!(!key.contains(number), "{key}: no number is ours to match");
        }
        tagged += usize::from((&*key, &*operator, &*value) == ("TAG", "+=", "uaccess"));
    }
    assert_eq!(tagged, 2);
    assert!(!text().contains("0666"));
}

#[test]
fn one_plain_serial_port_is_opened_and_kept_from_modem_managers() {
    for interfaces in [":020201:0a0000:", ":020200:0a0000:"] {
        assert_eq!(tty("ttyACM0", interfaces, "cdc_acm"), OPEN);
        assert_eq!(tty("ttyACM12", interfaces, "cdc_acm"), OPEN);
        assert_eq!(usb("usb_device", interfaces), OPEN[1..2]);
    }
    for driver in ["ftdi_sio", "cp210x", "ch341", "pl2303"] {
        assert_eq!(tty("ttyUSB3", ":ffffff:", driver), OPEN);
    }
}

#[test]
fn modems_and_everything_else_are_left_alone() {
    let nothing: [&str; 0] = [];
    // A modem: serial ports, a network (02:0e, 02:0d), a disk (08).
    assert_eq!(tty("ttyACM0", ":020201:0a0000:020e00:0a0002:", "cdc_acm"), nothing);
    assert_eq!(usb("usb_device", ":020d00:0a0001:020201:0a0000:"), nothing);
    assert_eq!(tty("ttyUSB2", ":ffffff:080650:", "option"), nothing);
    // Built in, without USB; a keyboard (03), a hub (09); a part of a device.
    assert_eq!(tty("ttyS0", "", ""), nothing);
    assert_eq!(usb("usb_device", ":030101:"), nothing);
    assert_eq!(usb("usb_device", ":090000:"), nothing);
    assert_eq!(usb("usb_interface", ":020201:0a0000:"), nothing);
    // A device that goes needs nothing.
    assert_eq!(
        given(&[("ACTION", "remove"), ("SUBSYSTEM", "tty"), ("KERNEL", "ttyACM0")]),
        nothing
    );
}

#[test]
fn what_is_jumped_to_is_there() {
    let all: Vec<Part> = rules().into_iter().flatten().collect();
    let values = |key: &str| all.iter().filter(|p| p.0 == key).map(|p| &p.2).collect::<Vec<_>>();
    assert_eq!(values("GOTO"), values("LABEL"));
}
