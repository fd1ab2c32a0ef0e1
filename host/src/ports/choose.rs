//! Which port plays which part.
//!
//! A port that the person names is taken or refused by what comes from it; it is never silently
//! replaced. What is not named is looked for among all ports, and taken only when exactly one
//! fits. The first port of a list is never taken for being the first.

use super::com;
use super::open::{BOARD_BAUD, list};
use super::probe::{Probe, probe_all};
use crate::shell::exit::{self, Trouble};
use std::path::Path;
use trundle_core::capture::PortRole;
use trundle_core::fitness::content::PortContent;

/// What the implement bus is to a job.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BusPart {
    /// Recorded beside it, where there is exactly one adapter.
    #[default]
    Beside,
    /// Read for the result where there is an adapter: of two, one has to be named.
    Read,
    /// There is no job without one.
    Needed,
}

/// What the person asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Port of the counter board.
    pub board: Option<String>,
    /// Port of the satellite receiver.
    pub receiver: Option<String>,
    /// Port of the bus adapter.
    pub bus: Option<String>,
    /// Go without a satellite receiver.
    pub no_receiver: bool,
    /// Go without a counter board.
    pub no_board: bool,
    /// What the bus is to the job.
    pub bus_part: BusPart,
    /// Speed of the receiver's line, bits per second; searched for if not given.
    pub receiver_baud: Option<u32>,
}

/// The ports that were chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// The counter board, unless it was declined.
    pub board: Option<Probe>,
    /// The satellite receiver, unless it was declined.
    pub receiver: Option<Probe>,
    /// The bus adapter, where there is one.
    pub bus: Option<Probe>,
    /// Why the job goes on without the bus although there are adapters, and what to do about it.
    pub without_bus: Option<String>,
}

const MEANS_NONE: &str = "Nothing was measured and nothing was written.";

/// Look at the ports and take one for each part.
///
/// # Errors
/// [`Trouble`]: code 2 for more than one choice or swapped ports, 3 for a part that was not
/// found, 4 for a named port that is blocked.
pub fn choose(wanted: &Wanted) -> Result<Chosen, Trouble> {
    let named = [
        (PortRole::Board, &wanted.board),
        (PortRole::Receiver, &wanted.receiver),
        (PortRole::Bus, &wanted.bus),
    ];
    let pairs = [(0, 1), (0, 2), (1, 2)].map(|(a, b)| (named[a], named[b]));
    for ((one, a), (other, b)) in pairs {
        let (Some(a), Some(b)) = (a, b) else { continue };
        if !same(a, b) {
            continue;
        }
        let what = format!("{a} was named both as {} and as {}.", one.name(), other.name());
        let next = "Name two ports, or only one and let the other be found.";
        return Err(Trouble::new(exit::USAGE, what, MEANS_NONE, next));
    }
    decide(wanted, &probe_all(&candidates(wanted)))
}

/// Ports to look at, each with the only speed to try, if one is fixed.
fn candidates(wanted: &Wanted) -> Vec<(String, Option<u32>)> {
    let mut ports: Vec<(String, Option<u32>)> = Vec::new();
    ports.extend(wanted.board.iter().map(|path| (path.clone(), Some(BOARD_BAUD))));
    ports.extend(wanted.receiver.iter().map(|path| (path.clone(), wanted.receiver_baud)));
    ports.extend(wanted.bus.iter().map(|path| (path.clone(), Some(BOARD_BAUD))));
    let search = (wanted.board.is_none() && !wanted.no_board)
        || (wanted.receiver.is_none() && !wanted.no_receiver)
        || (wanted.bus.is_none() && wanted.bus_part == BusPart::Needed);
    if search {
        for listed in list() {
            if !ports.iter().any(|(path, _)| same(path, &listed.path)) {
                ports.push((listed.path, None));
            }
        }
    }
    ports
}

fn same(a: &str, b: &str) -> bool {
    if cfg!(windows) && com::number(a).is_some() {
        return com::number(a) == com::number(b);
    }
    let resolve = |path: &str| Path::new(path).canonicalize().unwrap_or_else(|_| path.into());
    a == b || resolve(a) == resolve(b)
}

/// Take the parts from what was found.
///
/// # Errors
/// As [`choose`].
pub fn decide(wanted: &Wanted, probes: &[Probe]) -> Result<Chosen, Trouble> {
    let named = |name: &Option<String>| {
        name.as_ref().and_then(|name| probes.iter().find(|probe| probe.path == *name))
    };
    let (board, receiver) = (named(&wanted.board), named(&wanted.receiver));
    if let Some(swapped) = swapped(board, receiver) {
        return Err(swapped);
    }
    let board = match board {
        _ if wanted.no_board => None,
        Some(probe) if probe.is_board() => Some(probe.clone()),
        Some(probe) => return Err(unfit(probe, PortRole::Board)),
        None => Some(only(probes, PortRole::Board)?),
    };
    let receiver = match receiver {
        _ if wanted.no_receiver => None,
        Some(probe) if probe.is_receiver() => Some(probe.clone()),
        Some(probe) => return Err(unfit(probe, PortRole::Receiver)),
        None => Some(only(probes, PortRole::Receiver)?),
    };
    let (bus, without_bus) = match named(&wanted.bus) {
        Some(probe) if probe.is_adapter() => (Some(probe.clone()), None),
        Some(probe) => return Err(unfit(probe, PortRole::Bus)),
        None => of_adapters(wanted.bus_part, probes)?,
    };
    Ok(Chosen { board, receiver, bus, without_bus })
}

/// The bus adapter where none was named, or why there is none.
fn of_adapters(
    part: BusPart,
    probes: &[Probe],
) -> Result<(Option<Probe>, Option<String>), Trouble> {
    match (only(probes, PortRole::Bus), part) {
        (Ok(one), _) => Ok((Some(one), None)),
        // Most tractors are measured without.
        (Err(_), BusPart::Beside | BusPart::Read) if !probes.iter().any(Probe::is_adapter) => {
            Ok((None, None))
        }
        (Err(trouble), BusPart::Beside) => {
            let words = format!(
                "{}\n  The job goes on without the implement bus: nothing of it is recorded.\n  {}",
                trouble.what, trouble.next
            );
            Ok((None, Some(words)))
        }
        (Err(trouble), BusPart::Read | BusPart::Needed) => Err(trouble),
    }
}

fn swapped(board: Option<&Probe>, receiver: Option<&Probe>) -> Option<Trouble> {
    let board = board
        .filter(|probe| probe.is_receiver())
        .map(|probe| format!(" {}, named as counter board, is a satellite receiver.", probe.path));
    let receiver = receiver
        .filter(|probe| probe.is_board())
        .map(|probe| format!(" {}, named as satellite receiver, is a counter board.", probe.path));
    let words: Vec<String> = board.into_iter().chain(receiver).collect();
    let what = format!("The ports look swapped:{}", words.concat());
    let next = "Swap the two names, or give none: the ports are found.";
    (!words.is_empty()).then(|| Trouble::new(exit::USAGE, what, MEANS_NONE, next))
}

/// A port that was named and is not what it was named for.
fn unfit(probe: &Probe, role: PortRole) -> Trouble {
    if let Err(fault) = &probe.found {
        return fault.trouble(&probe.path);
    }
    let (_, why, next) = probe.words();
    let what = match &probe.found {
        Ok(PortContent::OtherVersion(_)) => format!("{} {why}.", probe.path),
        _ => format!("{} is not a {}: {why}.", probe.path, role.name()),
    };
    Trouble::new(exit::PORT, what, MEANS_NONE, next)
}

/// The only port that fits.
fn only(probes: &[Probe], role: PortRole) -> Result<Probe, Trouble> {
    let fits = |probe: &&Probe| match role {
        PortRole::Board => probe.is_board(),
        PortRole::Receiver => probe.is_receiver(),
        PortRole::Bus => probe.is_adapter(),
    };
    let fitting: Vec<&Probe> = probes.iter().filter(fits).collect();
    let (option, otherwise) = match role {
        PortRole::Board => ("--board", ""),
        PortRole::Receiver => ("--receiver", ", or measure by tape alone with --no-receiver"),
        PortRole::Bus => ("--bus", ""),
    };
    match fitting[..] {
        [one] => Ok(one.clone()),
        [] => {
            let what = format!("No {} was found at any port.{}", role.name(), table(probes));
            let next = format!("Check plug and supply, or name the port with {option}{otherwise}.");
            Err(Trouble::new(exit::PORT, what, MEANS_NONE, next))
        }
        _ => {
            let fitting: Vec<Probe> = fitting.into_iter().cloned().collect();
            let what = format!("More than one {} was found:{}", role.name(), table(&fitting));
            let next = format!("Say which one with {option} PORT.");
            let trouble = Trouble::new(exit::USAGE, what, MEANS_NONE, next);
            Err(trouble.of_option(option.trim_start_matches("--")))
        }
    }
}

fn table(probes: &[Probe]) -> String {
    let line = |probe: &Probe| {
        let (role, why, _) = probe.words();
        format!("\n  {}: {role}, {why}", probe.path)
    };
    probes.iter().map(line).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::ports::open::OpenFault;
    use trundle_core::fitness::content::ReceiverFinding;

    fn probe(path: &str, found: Result<PortContent, OpenFault>) -> Probe {
        Probe { path: path.to_owned(), baud: BOARD_BAUD, found }
    }

    fn board(path: &str) -> Probe {
        probe(path, Ok(PortContent::Board { hello: Some(Default::default()) }))
    }

    fn receiver(path: &str) -> Probe {
        let found =
            ReceiverFinding { kinds: vec![], rate_hz: None, bytes_per_s: None, quality: None };
        probe(path, Ok(PortContent::Receiver(found)))
    }

    fn wanted(board: &str, receiver: &str) -> Wanted {
        let name = |name: &str| (!name.is_empty()).then(|| name.to_owned());
        Wanted { board: name(board), receiver: name(receiver), ..Wanted::default() }
    }

    #[test]
    fn one_of_each_is_taken_wherever_it_stands() {
        let probes = [probe("a", Ok(PortContent::Silent)), receiver("b"), board("c")];
        let chosen = decide(&wanted("", ""), &probes).unwrap();
        assert_eq!((&*chosen.board.unwrap().path, &*chosen.receiver.unwrap().path), ("c", "b"));
    }

    #[test]
    fn two_of_a_kind_are_listed_and_none_is_taken() {
        let probes = [board("a"), receiver("b"), board("c")];
        let trouble = decide(&wanted("", ""), &probes).unwrap_err();
        assert_eq!(trouble.code, exit::USAGE);
        assert!(trouble.what.contains("  a: ") && trouble.what.contains("  c: "), "{trouble}");
        assert!(!trouble.what.contains("  b: "));
        assert_eq!(decide(&wanted("c", ""), &probes).unwrap().board.unwrap().path, "c");
    }

    #[test]
    fn what_is_missing_is_named_with_the_way_out() {
        let trouble = decide(&wanted("", ""), &[board("a")]).unwrap_err();
        assert_eq!(trouble.code, exit::PORT);
        assert!(trouble.next.contains("--no-receiver"), "{trouble}");
        let alone = Wanted { no_receiver: true, ..Wanted::default() };
        assert_eq!(decide(&alone, &[board("a")]).unwrap().receiver, None);
    }

    #[test]
    fn swapped_and_unfit_names_are_refused() {
        let probes = [receiver("a"), board("b")];
        let trouble = decide(&wanted("a", "b"), &probes).unwrap_err();
        assert!(trouble.what.contains("swapped"), "{trouble}");
        assert_eq!(trouble.code, exit::USAGE);
        // Half a swap is one too, also when the other half is found by itself.
        let trouble = decide(&wanted("a", ""), &probes).unwrap_err();
        assert!(trouble.what.contains("swapped"), "{trouble}");
        let probes = [probe("a", Ok(PortContent::Text(900))), receiver("b"), board("c")];
        let trouble = decide(&wanted("a", "b"), &probes).unwrap_err();
        assert!(trouble.what.contains("a is not a counter board: 900 bytes"), "{trouble}");
        let taken = OpenFault::Taken(vec!["other (pid 7)".to_owned()]);
        let trouble = decide(&wanted("a", "b"), &[probe("a", Err(taken)), receiver("b")]);
        assert_eq!(trouble.unwrap_err().code, exit::BLOCKED);
    }
}
