//! Which ports there are, and opening one with a reason if it cannot be opened.

use super::com;
use super::holder::holders;
use crate::shell::exit::{self, Trouble};
use serialport::{ClearBuffer, ErrorKind, SerialPort};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Speed of the board's line, bits per second.
pub const BOARD_BAUD: u32 = 115_200;
/// How long one read waits.
pub const READ_WAIT: Duration = Duration::from_millis(50);
/// How long one write may take.
pub const WRITE_WAIT: Duration = Duration::from_millis(200);
/// A modem manager looks at every new port for about this long before it lets go.
const MANAGER_WAIT: Duration = Duration::from_secs(15);

/// A port of the system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// The name to open it by.
    pub path: String,
    /// Its lasting names, such as those in `/dev/serial/by-id`.
    pub aliases: Vec<String>,
    /// What the system says it is: maker's words of a USB adapter, for instance.
    pub description: String,
}

/// Why a port is not open.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OpenFault {
    /// There is no port of that name.
    #[error("there is no such port")]
    NoSuchPort,
    /// It is there, and we may not use it.
    #[error("no permission to open it")]
    NoPermission,
    /// Another program has it; which, where that can be determined.
    #[error("taken by {}", if .0.is_empty() { "another program".into() } else { .0.join(", ") })]
    Taken(Vec<String>),
    /// There is something of that name, and it is not a port.
    #[error("not a serial port but {0}")]
    NotAPort(String),
    /// The system's own words.
    #[error("it cannot be opened ({0})")]
    Failed(String),
}

impl OpenFault {
    /// What to do about it.
    #[must_use]
    pub fn next(&self) -> String {
        match self {
            Self::NoSuchPort => "Check the plug and the name; `trundle ports` lists what is there.",
            Self::NoPermission if cfg!(target_os = "linux") => {
                "Look with `ls -l` which group owns the port, have your user added to that group, \
                 and log in again."
            }
            Self::NoPermission => "Give your user the right to open the port.",
            Self::Taken(_) => "Close the other program, or wait until it lets go, and try again.",
            Self::NotAPort(_) => "Name a port; captures are calculated with `trundle work`.",
            Self::Failed(_) => "Unplug it, plug it in again and look with `trundle ports`.",
        }
        .to_owned()
    }

    /// The exit code it leads to.
    #[must_use]
    pub const fn code(&self) -> u8 {
        match self {
            Self::NoSuchPort | Self::Failed(_) => exit::PORT,
            Self::NoPermission | Self::Taken(_) => exit::BLOCKED,
            Self::NotAPort(_) => exit::USAGE,
        }
    }

    /// As the end of a command.
    #[must_use]
    pub fn trouble(&self, path: &str) -> Trouble {
        let means = "Nothing was measured and nothing was written.";
        Trouble::new(self.code(), format!("{path}: {self}."), means, self.next())
    }
}

/// Every port the system lists, in the order of their names. Never fails: a system that lists
/// nothing may still have the port that the person names.
#[must_use]
pub fn list() -> Vec<Listed> {
    // The library takes this folder for granted and panics where it cannot be read: where there is
    // none, or no file handle is left.
    if cfg!(target_os = "linux") && std::fs::read_dir("/sys/class/tty").is_err() {
        return Vec::new();
    }
    let lasting = lasting_names();
    // Another thread may take the last handle in between.
    let ports = std::panic::catch_unwind(serialport::available_ports);
    let ports = ports.ok().and_then(Result::ok).unwrap_or_default();
    let names: Vec<&str> = ports.iter().map(|port| port.port_name.as_str()).collect();
    let keep = preferred(&names);
    let mut listed: Vec<Listed> = ports
        .iter()
        .filter(|port| keep.contains(&port.port_name))
        .map(|port| Listed {
            path: port.port_name.clone(),
            aliases: aliases(&port.port_name, &lasting),
            description: describe(&port.port_type),
        })
        .collect();
    listed.sort_by_key(|port| com::order(&port.path));
    listed
}

/// The lasting names of a port: those that stay the same when it is plugged in elsewhere.
#[must_use]
pub fn aliases_of(path: &str) -> Vec<String> {
    aliases(path, &lasting_names())
}

/// macOS names every port twice; `tty.*` waits for a carrier that a board never raises, so it is
/// left out where its `cu.*` twin is there.
fn preferred(names: &[&str]) -> Vec<String> {
    let twin = |name: &str| name.replacen("/dev/tty.", "/dev/cu.", 1);
    let hidden = |name: &str| name.starts_with("/dev/tty.") && names.contains(&&*twin(name));
    names.iter().filter(|name| !hidden(name)).map(|&name| name.to_owned()).collect()
}

/// USB number of the counter board: one of the free test numbers (pid.codes, "test PIDs", from
/// memory), to be replaced before boards are given away. Anybody may use it, so it only hints: what
/// a port is, is shown by what comes from it.
const BOARD_USB: (u16, u16) = (0x1209, 0x0001);
/// What the counter board's firmware calls itself.
const BOARD_PRODUCT: &str = "Trundle counter board";
/// What is said of a port with both.
const BOARD_HINT: &str = "a counter board by its USB name";

impl Listed {
    /// By number and name of its USB device this is a counter board, whatever comes from it.
    #[must_use]
    pub fn is_named_board(&self) -> bool {
        self.description.ends_with(BOARD_HINT)
    }
}

fn describe(kind: &serialport::SerialPortType) -> String {
    match kind {
        serialport::SerialPortType::UsbPort(usb) => {
            let words = [usb.manufacturer.as_deref(), usb.product.as_deref()];
            let words: Vec<&str> = words.into_iter().flatten().collect();
            let id = format!("USB {:04x}:{:04x}", usb.vid, usb.pid);
            let product = usb.product.as_deref().unwrap_or_default();
            let ours = (usb.vid, usb.pid) == BOARD_USB && product.starts_with(BOARD_PRODUCT);
            let hint = if ours { format!(", {BOARD_HINT}") } else { String::new() };
            if words.is_empty() { id } else { format!("{id} {}{hint}", words.join(" ")) }
        }
        serialport::SerialPortType::PciPort => "built in".to_owned(),
        serialport::SerialPortType::BluetoothPort => "Bluetooth".to_owned(),
        serialport::SerialPortType::Unknown => String::new(),
    }
}

/// Device to its names in `/dev/serial`; empty where the system has no such folder.
fn lasting_names() -> BTreeMap<PathBuf, Vec<String>> {
    let mut names: BTreeMap<PathBuf, Vec<String>> = BTreeMap::new();
    for folder in ["/dev/serial/by-id", "/dev/serial/by-path"] {
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            if let Ok(device) = entry.path().canonicalize() {
                let name = entry.path().to_string_lossy().into_owned();
                names.entry(device).or_default().push(name);
            }
        }
    }
    for list in names.values_mut() {
        list.sort();
    }
    names
}

fn aliases(path: &str, lasting: &BTreeMap<PathBuf, Vec<String>>) -> Vec<String> {
    let device = Path::new(path).canonicalize().ok();
    let names = device.and_then(|device| lasting.get(&device)).cloned().unwrap_or_default();
    names.into_iter().filter(|name| name != path).collect()
}

/// Open a port, drop what it had buffered from before, and wait out a modem manager.
///
/// # Errors
/// [`OpenFault`].
pub fn open(path: &str, baud: u32) -> Result<Box<dyn SerialPort>, OpenFault> {
    let started = Instant::now();
    wait_out(
        || open_now(path, baud),
        || {
            std::thread::sleep(Duration::from_millis(500));
            started.elapsed()
        },
    )
}

/// Try again while a modem manager has the port, for as long as one takes; `pause` waits a little
/// and how long it has been tried.
fn wait_out<T>(
    mut attempt: impl FnMut() -> Result<T, OpenFault>,
    mut pause: impl FnMut() -> Duration,
) -> Result<T, OpenFault> {
    loop {
        match attempt() {
            Err(OpenFault::Taken(by)) if by.iter().any(|name| name.contains("ModemManager")) => {
                if pause() > MANAGER_WAIT || crate::shell::stop::wanted() {
                    return Err(OpenFault::Taken(by));
                }
            }
            settled => return settled,
        }
    }
}

/// Open a port without waiting for anybody.
///
/// # Errors
/// [`OpenFault`].
pub fn open_now(path: &str, baud: u32) -> Result<Box<dyn SerialPort>, OpenFault> {
    if let Some(fault) = not_a_port(path) {
        return Err(fault);
    }
    // All that people write becomes the one form that the library knows; elsewhere such a name
    // could be a link.
    let name = if cfg!(windows) { com::plain(path) } else { path.to_owned() };
    let port = serialport::new(name, baud).timeout(READ_WAIT).open();
    let port = port.map_err(|error| open_fault(path, &error))?;
    // What came before we listened has no arrival time. Not every driver can drop it; then the
    // reader passes over it up to the first end of frame.
    let _ = port.clear(ClearBuffer::Input);
    Ok(port)
}

/// Files and folders are distinguished before they are opened: the system's words for them
/// ("inappropriate ioctl") help nobody.
fn not_a_port(path: &str) -> Option<OpenFault> {
    if cfg!(windows) && com::number(path).is_some() {
        return None;
    }
    match std::fs::metadata(path) {
        Ok(meta) if meta.is_dir() => Some(OpenFault::NotAPort("a folder".to_owned())),
        Ok(meta) if meta.is_file() => Some(OpenFault::NotAPort("a file".to_owned())),
        // Windows has ports that are in no folder.
        Err(_) if cfg!(windows) => None,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Some(OpenFault::NoSuchPort),
        _ => None,
    }
}

fn open_fault(path: &str, error: &serialport::Error) -> OpenFault {
    use std::io::ErrorKind as Io;
    match error.kind {
        ErrorKind::Io(Io::PermissionDenied) => OpenFault::NoPermission,
        ErrorKind::Io(Io::NotFound) => OpenFault::NoSuchPort,
        // Busy, or locked: the library says both with this word. A device that is being unplugged
        // gives it too, so the name is looked at once more.
        ErrorKind::NoDevice if cfg!(unix) && !Path::new(path).exists() => OpenFault::NoSuchPort,
        ErrorKind::NoDevice if cfg!(unix) => OpenFault::Taken(holders(path)),
        ErrorKind::NoDevice => windows_fault(&error.description),
        ErrorKind::Unknown if error.description.to_ascii_lowercase().contains("ioctl") => {
            OpenFault::NotAPort("another kind of device".to_owned())
        }
        _ => OpenFault::Failed(crate::shell::out::scrub(&error.description, 120)),
    }
}

/// Windows says "access is denied" both when another program has the port and when we may not
/// use it; the first is nearly always the reason.
fn windows_fault(description: &str) -> OpenFault {
    if description.to_ascii_lowercase().contains("denied") {
        OpenFault::Taken(Vec::new())
    } else {
        OpenFault::NoSuchPort
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_board_is_known_by_number_and_name_together() {
        let usb = |vid, pid, product: &str| {
            serialport::SerialPortType::UsbPort(serialport::UsbPortInfo {
                vid,
                pid,
                serial_number: None,
                manufacturer: None,
                product: Some(product.to_owned()),
            })
        };
        let ours = |kind| {
            let (path, aliases, description) = (String::new(), Vec::new(), describe(&kind));
            Listed { path, aliases, description }.is_named_board()
        };
        assert!(ours(usb(0x1209, 0x0001, "Trundle counter board (test id)")));
        assert!(!ours(usb(0x1209, 0x0001, "somebody's clock")));
        assert!(!ours(usb(0x1209, 0x0002, "Trundle counter board (test id)")));
    }

    #[test]
    fn the_twin_that_waits_for_a_carrier_is_left_out() {
        let names = ["/dev/tty.usbmodem1", "/dev/cu.usbmodem1", "/dev/tty.alone", "/dev/ttyACM0"];
        let kept = ["/dev/cu.usbmodem1", "/dev/tty.alone", "/dev/ttyACM0"];
        assert_eq!(preferred(&names), kept);
    }

    /// Numbers of errno.h by their words in the library: the kinds are what it maps them to.
    /// Fault row: a modem manager looks at the port for ten seconds.
    #[test]
    fn a_modem_manager_is_waited_out_and_nobody_else() {
        let taken = |name: &str| OpenFault::Taken(vec![format!("{name} (process 7)")]);
        // Half a second a try, on no clock.
        let tries = |holder: &str, let_go_after: u32| {
            let (mut tried, mut waited) = (0, 0);
            let outcome = wait_out(
                || {
                    tried += 1;
                    if tried > let_go_after { Ok(()) } else { Err(taken(holder)) }
                },
                || {
                    waited += 1;
                    Duration::from_millis(500 * waited)
                },
            );
            (outcome.map_err(|fault| matches!(fault, OpenFault::Taken(_))), tried)
        };
        assert_eq!(tries("ModemManager", 20), (Ok(()), 21));
        assert_eq!(tries("another", 20), (Err(true), 1));
        // It is waited for a limited time, and then named.
        let (outcome, tried) = tries("ModemManager", u32::MAX);
        assert_eq!(outcome, Err(true));
        assert!((20..=40).contains(&tried), "{tried}");
    }

    #[test]
    fn every_reason_has_its_own_words_and_code() {
        let map = |kind| open_fault("/dev/null", &serialport::Error::new(kind, "words"));
        let denied = map(ErrorKind::Io(std::io::ErrorKind::PermissionDenied));
        assert_eq!((denied.clone(), denied.code()), (OpenFault::NoPermission, exit::BLOCKED));
        assert!(denied.next().contains("group") || !cfg!(target_os = "linux"));
        let taken = OpenFault::Taken(vec!["other (pid 7)".to_owned()]);
        assert_eq!(taken.code(), exit::BLOCKED);
        assert!(!taken.next().contains("group"), "a taken port is no matter of rights");
        assert!(taken.trouble("/dev/x").to_string().contains("other (pid 7)"));
        let gone = map(ErrorKind::Io(std::io::ErrorKind::NotFound));
        assert_eq!((gone.clone(), gone.code()), (OpenFault::NoSuchPort, exit::PORT));
        assert_eq!(map(ErrorKind::Unknown), OpenFault::Failed("words".to_owned()));
    }

    #[test]
    fn files_and_folders_are_no_ports() {
        let here = std::env::temp_dir();
        let fault = open_now(&here.to_string_lossy(), BOARD_BAUD).err();
        assert_eq!(fault, Some(OpenFault::NotAPort("a folder".to_owned())));
        let gone = here.join("trundle-no-such-port");
        let fault = open_now(&gone.to_string_lossy(), BOARD_BAUD).err();
        assert_eq!(fault, Some(OpenFault::NoSuchPort));
    }
}
