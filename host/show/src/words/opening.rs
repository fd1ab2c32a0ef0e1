//! Opening the program, its first station, settings and other devices.

use super::station::Station;

// In the terminal.

/// The page; its link.
#[must_use]
pub fn page_is(link: &str) -> String {
    format!("The job is on this page: {link}")
}

/// The browser is opened.
pub const OPENING: &str = "It opens in the browser. If it does not, open the link above there.";
/// No browser can be opened here.
pub const NO_BROWSER: [&str; 3] = [
    "No browser could be opened here.",
    "The page is there all the same: copy the link above into a browser on this computer.",
    "For a phone or tablet, end this with Ctrl-C and start it again with --lan: it then shows a \
     picture of the link.",
];
/// How it ends.
pub const END: &str = "It goes on until Ctrl-C here, or \"Close the program\" on the page. A \
     closed browser ends nothing.";
/// The picture that follows lets a phone join.
pub const PICTURE: &str = "This picture is the link for full control. Who sees it, and everyone \
     who listens in the same wireless network, may do everything here: use the hotspot of your \
     own phone.";

/// The port is another program's.
#[must_use]
pub fn moved(wanted: u16, taken: u16) -> String {
    format!(
        "Another program has port {wanted}, so the page is at port {taken} this time. A bookmark \
         to port {wanted} leads to that other program until it ends."
    )
}

/// A port that was asked for cannot be had.
pub const PORT_TAKEN: [&str; 2] = [
    "The page was not opened. Nothing was recorded.",
    "Give another port with --port, or leave --port away: then a free one is found.",
];
/// None of the ports is free.
pub const NO_PORT: &str =
    "Close programs that are not needed, or give a port that is free with --port.";

/// The program runs already.
#[must_use]
pub fn runs_already(link: &str) -> String {
    format!("The program runs already with this data folder. Its page: {link}")
}

/// The link is for one use.
pub const ONCE: &str = "The link lets one browser join, once. Start the program again for another.";
/// What was asked for when the program was started a second time.
pub const NOT_USED: &str = "--port and --lan were not used: they hold for a program that is \
     started. To use them, close the one that runs.";
/// The lock cannot be had.
pub const NO_LOCK: [&str; 2] =
    ["Nothing was opened.", "Name another folder with --data, or see to the rights of this one."];
/// A program holds the folder and says nothing.
pub const DEAF: [&str; 3] = [
    "A program that runs already has this data folder, and does not answer.",
    "Two at once would disturb each other, so this one ends. Nothing was changed.",
    "Wait until it ends, or end it (it is called trundle), and start again; or name another \
     folder with --data.",
];

// Whoever is not let in.

pub(crate) const REFUSED: &str = "This browser may not do that";
pub(crate) const WHAT_NOW: &str = "What to do";
pub(crate) const REFUSED_INSIDE: [&str; 2] = [
    "Start the program again, by its icon or by typing trundle: when it runs already, it only \
     opens the page again, and this browser may then do everything.",
    "A bookmark and a page that was left open may only look after the program was started again. \
     What was saved and recorded is there.",
];
pub(crate) const REFUSED_OUTSIDE: [&str; 2] = [
    "On the computer that measures, open Settings, then Other devices: scan the picture there, or \
     type its link here.",
    "Links hold until the program ends, or until new ones are made. What was saved and recorded \
     is there.",
];
pub(crate) const REFUSED_TYPED: &str = "What you typed is not lost yet: do the above in another \
     tab, then go back here with the browser's arrow and send the form again.";
pub(crate) const REFUSED_KEPT: &str = "Nothing was done with what you typed, and none of it is \
     lost: it stands below. Do the above in another tab, then send it from here.";
pub(crate) const TYPED: &str = "What you typed";
pub(crate) const SEND_AGAIN: &str = "Send it again";
pub(crate) const TO_START: &str = "To the start";

// The first station.

pub(crate) const LOOK_ONLY: &str = "This browser may only look.";
pub(crate) const LOOK_ONLY_INSIDE: &str = "To do more, start the program again, by its icon or \
     by typing trundle: it opens this page with all rights.";
pub(crate) const LOOK_ONLY_OUTSIDE: &str = "To do more, open the link for full control: it \
     stands on the computer that measures, under Settings, Other devices.";
pub(crate) const ALL_DONE: &str =
    "Everything of this job is done. Drive again at any time, or begin a new job below.";
pub(crate) const RIG: &str = "Active rig";
pub(crate) const NO_RIG: &str = "none yet; only signing off needs one";
pub(crate) const FIRST: &str = "Your first job";
pub(crate) const FIRST_SAID: &str = "Nothing is saved here yet. The job goes through these \
     stations, in this order. Each can be left and come back to; nothing is lost by closing the \
     browser.";
pub(crate) const FIRST_STEPS: [(Station, &str); 7] = [
    (Station::Rig, "Say which tractor, tyres and antenna. Two minutes, once."),
    (Station::Check, "Board, receiver and sensors, before the tape comes out."),
    (Station::Course, "Tape 100 m or more, and type what the tape says."),
    (Station::Drive, "Drive it out and back, six passes or more, and mark at each peg."),
    (Station::Value, "Read the value to enter, and how good it is."),
    (Station::Proof, "With the value keyed in, drive on: did the tractor take it?"),
    (Station::Sign, "Sign off, and print the record."),
];
pub(crate) const FIRST_TRY: &str =
    "No tractor at hand, or the first time? Do the whole job with a simulated one.";
pub(crate) const TO_PRACTICE: &str = "Practise";
pub(crate) const PLUGGED: &str = "Plugged in";
pub(crate) const PLUGGED_NONE: &str =
    "The system lists no serial port. Plug counter board and receiver in; some need a driver.";
pub(crate) const PLUGGED_RECORDING: &str =
    "A recording has the ports. They are left in peace until it is over.";
pub(crate) const PLUGGED_LOOKING: &str = "Looking, some seconds ...";
pub(crate) const PLUGGED_AGAIN: &str = "Look again";
pub(crate) const JOB: &str = "This job";
pub(crate) const JOB_EMPTY: &str = "Nothing is recorded yet.";
pub(crate) const STATION: &str = "Station";
pub(crate) const CAPTURE: &str = "Newest capture";
pub(crate) const MORE_CAPTURES: &str = "Captures";
pub(crate) const RECENT: &str = "Last records";
pub(crate) const RECENT_NONE: &str = "None yet.";
pub(crate) const TO_RECORDS: &str = "All records";
pub(crate) const RIG_OF: &str = "Rig";
pub(crate) const ISSUED: &str = "Signed off, UTC";
pub(crate) const VALUE: &str = "Value to enter";
pub(crate) const STATE: &str = "State";
pub(crate) const PRACTISED: &str = "practice";
pub(crate) const PROGRAM: &str = "The program";
pub(crate) const SETTINGS: &str = "Settings";

/// Begin a new job.
pub const NEW_JOB: &str = "Begin a new job";
/// What that does.
pub const NEW_JOB_SAID: [&str; 2] = [
    "What was typed at the stations is cleared, the taped course is put aside, and the captures \
     are no longer shown here.",
    "Captures and records stay where they are.",
];
/// Asked before.
pub const NEW_JOB_SURE: &str = "Yes, clear this job";
/// The same strip is driven with another tractor.
pub const NEW_JOB_COURSE: &str = "Keep the taped course: the pegs still stand";
/// It was not said.
pub const NEW_JOB_UNSURE: &str = "Tick this first: then nothing is cleared by a slip of a finger.";
/// It is done.
pub const NEW_JOB_DONE: &str = "A new job is begun. What the last one left stays in:";
/// It is done, and there was nothing.
pub const NEW_JOB_NEW: &str = "A new job is begun.";
/// A recording goes on.
pub const NEW_JOB_LIVE: [&str; 3] = [
    "A recording is going on.",
    "It belongs to this job, so the job cannot be cleared now. Nothing was changed.",
    "Finish the recording first.",
];

/// A program was killed while it recorded.
pub const KILLED: &str = "The last recording was cut off";

/// What is known of it: station, capture, whether that is there.
#[must_use]
pub fn killed(station: Station, capture: &str, there: bool) -> Vec<String> {
    let name = station.name();
    let mut said = vec![format!(
        "The program ended in the middle of a recording at the station {name}: it was killed, or \
         the computer was switched off."
    )];
    said.push(if there {
        format!(
            "What was recorded until then is in {capture}. It can be worked as it is: what is not \
             whole in it is left out, and said."
        )
    } else {
        format!("Nothing of it reached the disk: {capture} is not there.")
    });
    said
}

/// Ways on from there.
pub const KILLED_AGAIN: &str = "Record anew";
/// Work what is there.
pub const KILLED_WORK: &str = "Use what was recorded";
/// Neither.
pub const KILLED_LEAVE: &str = "Leave it";
/// What becomes of it.
pub const KILLED_KEPT: &str = "The capture of the recording that was cut off stays in:";
/// It is used.
pub const KILLED_USED: &str = "The capture of the recording that was cut off is used now:";
/// It is not there any more.
pub const KILLED_GONE: [&str; 3] = [
    "There is no recording that was cut off any more.",
    "It was dealt with on another page or device. Nothing was changed.",
    "Go on with the job.",
];

/// End the program.
pub const CLOSE: &str = "Close the program";
/// What that does.
pub const CLOSE_SAID: &str =
    "Everything is saved. To go on later, start the program again: it opens this page.";
/// It is done.
pub const CLOSED: &str = "The program is closed";
/// What that means.
pub const CLOSED_SAID: [&str; 2] = [
    "This page does nothing any more. Close it.",
    "To go on, start the program again, by its icon or by typing trundle.",
];
/// A recording goes on.
pub const CLOSE_LIVE: [&str; 3] = [
    "A recording is going on.",
    "Closing the program would end it, so the program goes on. Nothing was changed.",
    "Finish the recording first: the link at the top leads to it.",
];
