//! `trundle ports`: which ports there are, and what is behind each.

use crate::ports::open::{Listed, aliases_of, list};
use crate::ports::probe::{Probe, probe_all};
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use serde_json::{Value, json};
use trundle_core::fitness::content::PortContent;
use trundle_core::fitness::firmware;
use trundle_core::wire::fix::quality_words;

/// List the ports and say what is behind each, by what comes from it.
///
/// Every port is opened, asked whether it is a counter board, and listened to for some seconds.
#[derive(Debug, clap::Args)]
pub struct PortsArgs {
    /// Look at these ports only; also ones that the system does not list.
    #[arg(value_name = "PORT", add = super::handbook::serial_ports())]
    pub ports: Vec<String>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`] of code 3 when there is no port at all.
pub fn run(args: &PortsArgs) -> Result<u8, Trouble> {
    let listed = if args.ports.is_empty() { list() } else { named(&args.ports) };
    if listed.is_empty() && !args.json {
        let what = "The system lists no serial port.";
        let means = "Neither counter board nor satellite receiver can be reached.";
        let next = "Plug them in; some need a driver. A port that is not listed can be named.";
        return Err(Trouble::new(exit::PORT, what, means, next));
    }
    if !args.json {
        out::notice(&format!("Looking at {} port(s), some seconds each ...", listed.len()));
    }
    let wanted: Vec<(String, Option<u32>)> =
        listed.iter().map(|port| (port.path.clone(), None)).collect();
    let probes = probe_all(&wanted);
    let all: Vec<(&Listed, &Probe)> = listed.iter().zip(&probes).collect();
    out::say_either(args.json, || to_json(&all).to_string(), || table(&all));
    Ok(code(&probes, !args.ports.is_empty()))
}

fn named(names: &[String]) -> Vec<Listed> {
    let known = list();
    let listed = |name: &String| {
        let found = known.iter().find(|port| port.path == *name).cloned();
        let (path, aliases) = (name.clone(), aliases_of(name));
        found.unwrap_or_else(|| Listed { path, aliases, description: String::new() })
    };
    names.iter().map(listed).collect()
}

/// A port that was named has to be usable; of the others it is enough that there are some.
fn code(probes: &[Probe], named: bool) -> u8 {
    let codes = probes.iter().filter_map(|probe| probe.found.as_ref().err());
    let worst = codes.map(crate::ports::open::OpenFault::code).max().unwrap_or(exit::OK);
    let none_opened = probes.iter().all(|probe| probe.found.is_err());
    match (named, probes.is_empty()) {
        (_, true) => exit::PORT,
        (true, false) => worst,
        (false, false) if none_opened => worst,
        _ => exit::OK,
    }
}

/// A board by its USB name, and nothing comes that a board sends.
const MUTE_BOARD: &str = "Unplug this board and plug it in again; if it stays silent, put its \
                          firmware file on again.";

fn table(all: &[(&Listed, &Probe)]) -> String {
    let width = all.iter().map(|(port, _)| port.path.chars().count()).max().unwrap_or(0).min(40);
    let mut text = String::new();
    for (port, probe) in all {
        let path = out::scrub(&port.path, 200);
        let (role, why, next) = probe.words();
        text += &format!("{path:<width$}  {role:<18}  {why}\n");
        let indent = " ".repeat(width + 2);
        if !port.description.is_empty() {
            text += &format!("{indent}{}\n", out::scrub(&port.description, 100));
        }
        for alias in &port.aliases {
            text += &format!("{indent}also {}\n", out::scrub(alias, 200));
        }
        if !next.is_empty() {
            text += &format!("{indent}-> {next}\n");
        }
        if port.is_named_board() && !probe.is_board() && probe.found.is_ok() {
            text += &format!("{indent}-> {MUTE_BOARD}\n");
        }
    }
    text
}

fn to_json(all: &[(&Listed, &Probe)]) -> Value {
    let ports: Vec<Value> = all
        .iter()
        .map(|(port, probe)| {
            let (role, why, next) = probe.words();
            let mut object = json!({
                "port": port.path,
                "also": port.aliases,
                "description": port.description,
                "role": role,
                "why": why,
                "next": next,
            });
            match &probe.found {
                Ok(PortContent::Board { hello: Some(hello) }) => {
                    object["board"] = json!({
                        "id": format!("{:016x}", hello.board_id.0),
                        "firmware": hello.firmware,
                        "capabilities": hello.capabilities,
                        "firmware_expected": firmware::EXPECTED,
                        "firmware_stands": firmware::age(hello.firmware).word(),
                    });
                }
                Ok(PortContent::Receiver(receiver)) => {
                    object["receiver"] = json!({
                        "baud": probe.baud,
                        "sentences": receiver.kinds,
                        "fixes_per_s": receiver.rate_hz,
                        "bytes_per_s": receiver.bytes_per_s,
                        "quality": receiver.quality.map(quality_words),
                    });
                }
                _ => {}
            }
            object
        })
        .collect();
    json!({ "format": "trundle-ports", "version": 1, "ports": ports })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::open::OpenFault;

    fn probe(found: Result<PortContent, OpenFault>) -> Probe {
        Probe { path: "p".to_owned(), baud: 115_200, found }
    }

    #[test]
    fn a_named_port_has_to_be_usable_and_a_listed_one_has_not() {
        let silent = || probe(Ok(PortContent::Silent));
        let taken = || probe(Err(OpenFault::Taken(Vec::new())));
        let gone = || probe(Err(OpenFault::NoSuchPort));
        assert_eq!(code(&[silent(), taken()], false), exit::OK);
        assert_eq!(code(&[silent(), taken()], true), exit::BLOCKED);
        assert_eq!(code(&[gone()], true), exit::PORT);
        assert_eq!(code(&[taken(), gone()], false), exit::BLOCKED);
        assert_eq!(code(&[], false), exit::PORT);
    }

    #[test]
    fn a_board_that_is_one_by_name_alone_is_said() {
        let description = "USB 1209:0001 Trundle counter board (test id), a counter board by its \
                           USB name"
            .to_owned();
        let port = Listed { path: "/dev/p".to_owned(), aliases: Vec::new(), description };
        let text = table(&[(&port, &probe(Ok(PortContent::Silent)))]);
        assert!(text.contains("put its firmware file on again"), "{text}");
        let other = Listed { description: "USB 1209:0001 clock".to_owned(), ..port };
        let text = table(&[(&other, &probe(Ok(PortContent::Silent)))]);
        assert!(!text.contains("firmware file"), "{text}");
    }

    #[test]
    fn the_table_names_port_finding_and_way_out() {
        let port = Listed {
            path: "/dev/p\x1b".to_owned(),
            aliases: vec!["/dev/serial/by-id/x".to_owned()],
            description: "USB".to_owned(),
        };
        let text = table(&[(&port, &probe(Ok(PortContent::Silent)))]);
        let expected =
            ["/dev/p?", "silent", "no data received", "also /dev/serial/by-id/x", "-> Is"];
        for word in expected {
            assert!(text.contains(word), "{word} in {text}");
        }
        assert!(!text.contains('\x1b'));
    }
}
