//! Words of the station of rigs.

use trundle_core::rig::Thing;

/// Several of a kind.
#[must_use]
pub const fn several(thing: Thing) -> &'static str {
    match thing {
        Thing::Tractor => "Tractors",
        Thing::Tyres => "Tyres",
        Thing::Rig => "Rigs",
        Thing::Tape => "Tapes",
        Thing::Person => "People",
    }
}

/// One of a kind, as a heading.
#[must_use]
pub const fn one(thing: Thing) -> &'static str {
    match thing {
        Thing::Tractor => "Tractor",
        Thing::Tyres => "Tyres",
        Thing::Rig => "Rig",
        Thing::Tape => "Tape",
        Thing::Person => "Person",
    }
}

/// What a kind is for.
#[must_use]
pub const fn about(thing: Thing) -> &'static str {
    match thing {
        Thing::Tractor => "What the plate of the tractor says.",
        Thing::Tyres => "A set of tyres as fitted: a value holds for these tyres only.",
        Thing::Rig => "A tractor on its tyres, with its antenna: what is measured and signed off.",
        Thing::Tape => "The tape that the course is laid with: how well its length is known.",
        Thing::Person => "Who measures, and whose tractor it is.",
    }
}

/// There is none of a kind yet.
#[must_use]
pub fn none_yet(thing: Thing) -> String {
    format!("There is no {} yet. Add the first one below.", thing.noun())
}

/// Heading and button of adding one.
#[must_use]
pub fn add(thing: Thing) -> String {
    match thing {
        Thing::Tyres => "Add tyres".to_owned(),
        Thing::Tractor | Thing::Rig | Thing::Tape => format!("Add a {}", thing.word()),
        Thing::Person => "Add a person".to_owned(),
    }
}

/// Button beside a choice, for what is not in the list.
#[must_use]
pub fn add_new(thing: Thing) -> String {
    format!("Another {}: add it", thing.noun())
}

/// One is added for a rig that is being filled in.
#[must_use]
pub fn comes_back(thing: Thing) -> String {
    format!(
        "What you typed for the rig is kept. Once the {} is saved, you are back at the rig.",
        thing.noun()
    )
}

/// No rig is active: all else waits for it.
pub const NO_RIG: &str = "No rig is there yet. A record says on which tractor and tyres it was \
    measured: add the tractor, then its tyres, then the rig that ties them together.";
/// Heading of the rig in use.
pub const ACTIVE: &str = "The rig in use";
/// Column of the rig in use.
pub const IN_USE: &str = "In use";
/// The rig in use, in that column.
pub const YES: &str = "\u{2713} yes";
/// Button: use this rig.
pub const USE: &str = "Use this rig";
/// Button: change it.
pub const CHANGE: &str = "Change it";
/// Heading of the form that changes one.
pub const CHANGING: &str = "Change";
/// Button: into the bin.
pub const REMOVE: &str = "Put it into the bin";
/// Link: the rig as a file.
pub const EXPORT: &str = "Hand it over as a file";
/// Link and heading: take a rig over.
pub const IMPORT: &str = "Take a rig over from a file";
/// What that is for.
pub const IMPORT_ABOUT: &str = "A rig and all that it names, as another computer with this \
    program handed it over. It is shown first; nothing changes before you say so.";
/// Field: a file.
pub const FILE: &str = "File on this computer";
/// Hint of that field.
pub const FILE_HINT: &str = "Its whole path; from another device, paste its text below instead";
/// Field: pasted text.
pub const TEXT: &str = "Or its text, pasted";
/// Button: show what would be taken over.
pub const SHOW_FIRST: &str = "Show what would change";
/// Heading of what would be taken over.
pub const WOULD: &str = "What would change";
/// Button: take it over.
pub const TAKE_OVER: &str = "Take it over";
/// Neither file nor text was given.
pub const NO_FILE: [&str; 3] = [
    "No file is named, and no text was pasted.",
    "Nothing was taken over.",
    "Name the file, or paste its text.",
];
/// Both were given.
pub const BOTH_FILES: [&str; 3] = [
    "A file is named, and a text was pasted too.",
    "Nothing was taken over: they may differ.",
    "Empty one of the two.",
];
/// What was shown is not what the file says now.
pub const FILE_CHANGED: [&str; 3] = [
    "The file is another one than the one that was shown.",
    "Nothing was taken over.",
    "Look at what would change now, and say so again.",
];
/// Link: undo.
pub const UNDO: &str = "Undo the last change";
/// Link: the bin.
pub const BIN: &str = "What is in the bin";
/// Link: all of a kind.
pub const ALL: &str = "See and add:";
/// Another program or device changed the entry.
pub const CHANGED: [&str; 3] = [
    "This was changed by somebody else since you opened it.",
    "Nothing was changed by you, and nothing that you typed is lost: it stands in the fields.",
    "Compare the two below. Sending again saves what stands in the fields.",
];
/// Heading of the comparison, and its columns.
pub const COMPARE: &str = "Saved now, and typed by you";
pub(crate) const COMPARE_HEADS: [&str; 3] = ["What", "Saved now", "Typed by you"];
/// The entry is gone.
pub const GONE: [&str; 2] = [
    "It is not there any more: it was renamed, or put into the bin.",
    "Nothing was changed. What you typed stands below; note it before you go on.",
];
/// Of the drawing of the antenna.
pub(crate) const PLAN: &str = "Where the lengths are measured";
pub(crate) const PLAN_SAYS: &str = "The tractor from above, driving up the page, not to scale. A: \
    from the middle to the antenna, right is positive, left is negative. B: from the rear axle to \
    the antenna, ahead is positive, behind is negative. C: from the ground up to the antenna. D: \
    from the rear axle back to the coupling point, always positive.";
/// The lengths of the drawing: key of the field, letter, and how its sign goes.
pub(crate) const LETTERS: [(&str, char, &str); 4] = [
    ("antenna_right", 'A', "from the middle: right is positive, left is negative"),
    ("antenna_ahead", 'B', "from the rear axle: ahead is positive, behind is negative"),
    ("antenna_height", 'C', "from level ground up to the antenna: always positive"),
    ("axle_to_hitch", 'D', "from the rear axle back to the coupling point: always positive"),
];
pub(crate) const NOT_KNOWN: &str = "not known";
pub(crate) const BROKEN: &str = "Not to scale. A broken line: not known yet.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_are_right_for_every_kind() {
        assert_eq!(
            none_yet(Thing::Tyres),
            "There is no set of tyres yet. Add the first one below."
        );
        assert!(comes_back(Thing::Tyres).contains("Once the set of tyres is saved"));
        for thing in Thing::ALL {
            assert!(!none_yet(thing).contains("no tyres"), "{thing:?}");
            assert!(!thing.name_about().contains("thing"), "{thing:?}");
        }
    }
}
