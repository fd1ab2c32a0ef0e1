//! Settings, other devices, and practice.

/// Heading.
pub const SETTINGS: &str = "Settings";
/// What they are.
pub const ABOUT: [&str; 2] = [
    "Each can be left empty. What is typed at a station wins over what stands here.",
    "A new folder for rigs and records holds from the next start of the program.",
];
/// Saved.
pub const SAVED: [&str; 1] = ["The settings are saved."];

/// Label of a setting.
#[must_use]
pub fn label(key: &str) -> &'static str {
    match key {
        "data" => "Folder for rigs and records",
        "captures" => "Folder for new captures",
        "board" => "Port of the counter board",
        "receiver" => "Port of the satellite receiver",
        "receiver_speed" => "Speed of the receiver's line, baud",
        "speed_unit" => "Speeds are read in",
        "pressure_unit" => "Tyre pressures are read in",
        "length_unit" => "Lengths are read in",
        "language" => "Language",
        _ => "Time of day",
    }
}

/// What may be typed.
#[must_use]
pub fn hint(key: &str) -> &'static str {
    match key {
        "data" => "Empty: this system's usual place.",
        "captures" => "Empty: beside the records.",
        "board" | "receiver" => "Empty: found by what comes from it.",
        "receiver_speed" => "Empty: found.",
        "speed_unit" => "Not said: km/h. What is stored never changes by this.",
        "pressure_unit" => "Not said: bar. What is stored never changes by this.",
        "language" => {
            "Not said: that of the browser. Records and files stay in English; each page of them \
             is shown and printed in the language chosen here."
        }
        "length_unit" => "Not said: m. What is stored never changes by this.",
        _ => "Not said: local time beside UTC. Records are kept in UTC whatever is chosen here.",
    }
}

pub(crate) const UTC: &str = "UTC";
pub(crate) const LOCAL: &str = "local time beside UTC";
pub(crate) const FILE: &str = "Settings file";
pub(crate) const NO_FILE: &str = "There is no home folder to keep settings in.";
pub(crate) const FOLDER: &str = "Rigs and records are now in";
pub(crate) const CHOSEN_BY: &str = "chosen by";
/// Heading of `trundle where`.
pub const WHERE: &str = "Where everything is saved";
/// Heading of `trundle doctor`.
pub const DOCTOR: &str = "Is everything in order?";
pub(crate) const DOCTOR_GO: &str = "Look at everything, some seconds";
/// The ports were left in peace.
pub const DOCTOR_NO_PORTS: &str =
    "A recording is going on and has the ports, so they were not looked at.";
/// Back to the settings.
pub const BACK: &str = "Back to the settings";

/// Heading.
pub const DEVICES: &str = "Other devices";
pub(crate) const DEVICES_NOT: [&str; 3] = [
    "Only this computer can open the page now.",
    "To show it to a phone or tablet: join the hotspot of your own phone with this computer, close \
     the program, and start it with --lan. This page then has pictures to scan.",
    "From an icon: add --lan to the command that the icon starts.",
];
pub(crate) const DEVICES_CAUTION: [&str; 2] = [
    "What goes over the network is not encrypted. Whoever listens in the same wireless network, or \
     sees a picture, may do what its link allows. Use the hotspot of your own phone, never an open \
     network.",
    "Scan with the camera of the device, or type the link into its browser. The links hold until \
     the program ends.",
];
/// A link to look.
pub const VIEW: [&str; 2] = ["To look", "Sees the job and what is recorded; changes nothing."];
/// A link to mark.
pub const MARK: [&str; 2] =
    ["To mark", "Looks, and marks at the pegs: for whoever stands or drives there."];
/// A link for full control.
pub const FULL: [&str; 2] =
    ["For full control", "Does everything that this computer does. Only for your own device."];
pub(crate) const PICTURE: &str = "The link as a picture for a camera";
/// New links.
pub const NEW_LINKS: &str = "Make new links";
/// What that does.
pub const NEW_LINKS_SAID: [&str; 2] = [
    "Every other device is shown out, and has to open a new link. This browser stays.",
    "A recording goes on.",
];
/// They are made.
pub const NEW_LINKS_DONE: [&str; 1] = ["The old links hold no more. New ones stand below."];
pub(crate) const WAKE: &str = "The screen of a phone or tablet";
pub(crate) const WAKE_SAID: [&str; 2] = [
    "On this computer the page keeps the screen on while something is recorded. On a phone or \
     tablet it cannot: browsers allow that only over an encrypted connection or on the same \
     computer, and this page comes unencrypted over the network.",
    "Set it by hand before you drive: in the settings of the device, under display, the longest \
     time until the screen goes off, and no power saving. A screen that goes off ends nothing: the \
     recording goes on, and the page is there again when it is unlocked.",
];

/// Heading.
pub const PRACTICE: &str = "Practise";
/// What it is.
pub const PRACTICE_SAID: [&str; 3] = [
    "A simulated tractor takes the place of board and receiver. Every station works as with a real \
     one, and nothing moves.",
    "Everything made from it says that it is practice, and none of it is a measurement.",
    "Choose, begin, and go through the stations. At stations where another drive suits better, \
     such as the PTO, the same tractor drives that.",
];
/// Labels.
pub const SCENARIO: &str = "What the tractor does on the course";
/// What may be chosen.
pub const SCENARIO_HINT: &str =
    "The first is the one to begin with. Others have a fault to be found, or another course.";
/// Label.
pub const CASE: &str = "What the simulated tractor does here";
/// What may be chosen.
pub const CASE_HINT: &str = "The first is the one to begin with. Only in practice.";
/// Label.
pub const PACE: &str = "Pace";
/// What may be typed.
pub const PACE_HINT: &str = "1 is that of a real tractor; 10 is ten times as fast.";
/// Label.
pub const CLASS: &str = "Its receiver";
/// What may be chosen.
pub const CLASS_HINT: &str = "Not said: that of the drive that is chosen.";
/// Label.
pub const NO_BUTTON: &str = "You mark at the pegs, not the simulated driver";
/// Begin.
pub const PRACTICE_BEGIN: &str = "Begin to practise";
/// It has begun.
pub const PRACTICE_BEGUN: [&str; 1] =
    ["Practice is on: every recording of this job is of the simulated tractor."];
/// It goes on.
pub const PRACTICE_ON: &str = "Practice is on";

/// What is chosen: scenario and pace.
#[must_use]
pub fn practice_is(scenario: &str, pace: &str) -> String {
    format!("On the course the tractor drives \"{scenario}\", at {pace} times a real one's pace.")
}

/// End.
pub const PRACTICE_END: &str = "End practice";
/// What that does.
pub const PRACTICE_END_SAID: &str = "Ending it begins a new job: what was typed for practice is \
     cleared. Captures and records of practice stay, and stay marked.";
/// It has ended.
pub const PRACTICE_ENDED: [&str; 1] =
    ["Practice is over: from now on the real board and receiver count."];
/// A recording goes on.
pub const PRACTICE_LIVE: [&str; 3] = [
    "A recording is going on.",
    "It keeps the tractor with which it was begun. Nothing was changed.",
    "Finish the recording first.",
];
/// The job has captures of a real tractor.
pub const PRACTICE_MIXED: [&str; 3] = [
    "Something was recorded in this job already.",
    "Practice and measurement would get mixed in one job. Nothing was changed.",
    "Begin a new job at the start; the captures of this one stay.",
];
