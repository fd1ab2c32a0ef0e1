//! A part of a visit calculated from its capture: when it is signed off, and when it is verified.

use super::part_read::PartRead;
use super::part_v1::{PartMethodV1, PartV1};
use super::record_v1::{CaptureV1, RecordFault};
use super::{mount_v1, proof_v1, pto_v1, speeds_v1};
use crate::session::Session;
use crate::survey::mount::{self, Mount, MountRefusal};
use crate::survey::proof::{Alarm, Proof, ProofRefusal, Taken, proof};
use crate::survey::pto::{Pto, pto};
use crate::survey::speeds::{Least, Speeds, SpeedsRefusal, speeds};
use serde_json::value::RawValue;

/// Most reasons why readings are not used that are named.
const REASONS: usize = 3;

/// What came of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Nothing speaks against it.
    Sound,
    /// There is a result, and this speaks against it.
    Flagged(String),
    /// There is no result, for this reason.
    Refused(String),
}

/// How a part that was recalculated compares.
#[derive(Clone, Debug, PartialEq)]
pub enum PartVerified {
    /// The result has the same bytes.
    Same,
    /// The same values, but not the same bytes.
    SameValues {
        /// Version that signed it off.
        then: String,
        /// Version that calculated it again.
        now: String,
    },
    /// Other values.
    Differs {
        /// As it was signed off.
        then: PartRead,
        /// As it is now.
        now: PartRead,
    },
}

/// The document of a part, byte for byte as its command gives it, and how it stands. `session`
/// keeps what the part needs ([`super::part_v1::keeps`]).
#[must_use]
pub fn work_part(session: &Session, method: &PartMethodV1) -> (String, Standing) {
    let trail = || session.trail().unwrap_or_default();
    match method {
        PartMethodV1::Pto(how) => {
            let inputs = session.totals().capabilities;
            let found = pto(&trail(), session.notes(), inputs, how.options());
            (pto_v1::to_json(&found), of_pto(&found))
        }
        PartMethodV1::Mount(how) => {
            let found = mount::work(&trail(), &how.options());
            (mount_v1::to_json(&found), of_mount(&found))
        }
        PartMethodV1::Speeds(how) => {
            let found = speeds(&trail(), how.options());
            (speeds_v1::to_json(&found), of_speeds(&found))
        }
        PartMethodV1::Proof(how) => {
            let found = proof(session, false, &how.options());
            (proof_v1::to_json(&found), of_proof(&found))
        }
    }
}

/// The part of a capture, ready to be signed off; `Err` says why there is no result.
///
/// # Errors
/// The reason, in words.
pub fn part(session: &Session, method: PartMethodV1, capture: CaptureV1) -> Result<PartV1, String> {
    let (document, standing) = work_part(session, &method);
    let flag = match standing {
        Standing::Sound => None,
        Standing::Flagged(why) => Some(why),
        Standing::Refused(why) => return Err(why),
    };
    let result = RawValue::from_string(document).expect("a document is JSON");
    Ok(PartV1 { method, capture, flag, result })
}

/// Compare a part that was signed off with its capture calculated again.
///
/// # Errors
/// [`RecordFault`] when the result that was signed off cannot be read.
pub fn verify_part(
    part: &PartV1,
    session: &Session,
    signed_by: &str,
) -> Result<PartVerified, RecordFault> {
    let (again, _) = work_part(session, &part.method);
    if part.result.get() == again {
        return Ok(PartVerified::Same);
    }
    let (then, now) = (part.read()?, super::part_read::read(&part.method, &again)?);
    if then.is_like(&now) {
        let (then, now) = (signed_by.to_owned(), env!("CARGO_PKG_VERSION").to_owned());
        return Ok(PartVerified::SameValues { then, now });
    }
    Ok(PartVerified::Differs { then, now })
}

fn of_pto(pto: &Pto) -> Standing {
    match &pto.found {
        Ok(found) if found.to_enter().is_some() => Standing::Sound,
        Ok(_) => Standing::Flagged("which whole number to enter is not clear".to_owned()),
        Err(refusal) => Standing::Refused(refusal.to_string()),
    }
}

fn of_mount(mount: &Result<Mount, MountRefusal>) -> Standing {
    match mount {
        Ok(mount) if mount.is_clean() => Standing::Sound,
        Ok(mount) if mount.right.is_none() && mount.ahead.is_none() => {
            Standing::Refused("neither distance of the antenna was found".to_owned())
        }
        Ok(mount) if mount.cut => {
            Standing::Flagged("the capture is too long: its end is not in the result".to_owned())
        }
        Ok(mount) if mount.right.is_none() || mount.ahead.is_none() => {
            Standing::Flagged("one of the two distances of the antenna was not found".to_owned())
        }
        Ok(_) => Standing::Flagged("a taped distance contradicts the one driven".to_owned()),
        Err(refusal) => Standing::Refused(refusal.to_string()),
    }
}

fn of_speeds(speeds: &Result<Speeds, SpeedsRefusal>) -> Standing {
    let speeds = match speeds {
        Ok(speeds) => speeds,
        Err(refusal) => return Standing::Refused(refusal.to_string()),
    };
    let never = |least: Least| matches!(least, Least::Never);
    let against = match speeds_v1::state(speeds) {
        "disagree" => "the speeds do not agree: a line does not pass through zero",
        "incomplete" => "one of the sensors gave too few impulses to compare",
        "ratios_only" => "only ratios: whether they hold at other speeds is not tested",
        _ if speeds.singles.iter().flatten().any(|single| never(single.least)) => {
            "a sensor is off by more than 5 % at every speed"
        }
        _ if speeds.cut => "the capture is too long: its end is not in the comparison",
        _ => return Standing::Sound,
    };
    Standing::Flagged(against.to_owned())
}

fn of_proof(proof: &Proof) -> Standing {
    let judged = match &proof.judged {
        Ok(judged) => judged,
        Err(ProofRefusal::NoneUsable { typed }) => {
            return Standing::Refused(format!(
                "none of the {typed} readings can be used: {}",
                reasons(proof).join("; ")
            ));
        }
        Err(refusal) => return Standing::Refused(refusal.to_string()),
    };
    let against = judged.alarms.iter().copied().find_map(Alarm::against);
    match (judged.taken, against) {
        (Taken::Took, None) => Standing::Sound,
        (Taken::Took, Some(against)) => Standing::Flagged(against.to_owned()),
        _ => Standing::Flagged(judged.verdict(&proof.known)),
    }
}

/// Why readings are not used, each reason once.
fn reasons(proof: &Proof) -> Vec<String> {
    let passes = proof
        .passes
        .iter()
        .filter_map(|pass| Some(format!("pass {}: {}", pass.number, pass.shown.err()?)));
    let speeds = proof.speeds.iter().filter_map(|one| Some(one.run.err()?.to_string()));
    let astray = (!proof.astray.is_empty())
        .then(|| "distances were typed at no standstill beside a marked peg".to_owned());
    let mut out: Vec<String> = Vec::new();
    for reason in passes.chain(speeds).chain(astray) {
        if out.len() < REASONS && !out.contains(&reason) {
            out.push(reason);
        }
    }
    out
}
