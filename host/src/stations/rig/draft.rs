//! A rig that is being filled in while something else is added for it: what was typed waits in the
//! job at hand.

use super::fields::link;
use super::{asked, path};
use crate::shell::exit::Trouble;
use crate::stations::form::Sent;
use crate::stations::house::House;
use crate::web::stations::value;
use serde::{Deserialize, Serialize};
use trundle_core::rig::Thing;
use trundle_show::words::station::Station;

/// Where it lies among what was typed at the station.
const KEY: &str = "draft";

/// What was typed for a rig.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
    /// Name of the rig that is changed; empty for a new one.
    pub of: String,
    /// What the form sent.
    pub sent: Vec<(String, String)>,
}

impl Draft {
    /// Of what a form sent.
    pub fn of(sent: &Sent) -> Self {
        let kept = sent.iter().filter(|(name, _)| !matches!(name.as_str(), "key" | "also"));
        Self { of: value(sent, "of").to_owned(), sent: kept.cloned().collect() }
    }

    /// The one that waits.
    pub fn waiting(house: &House) -> Option<Self> {
        serde_json::from_str(&house.job().typed(Station::Rig, KEY)).ok()
    }

    /// Let it wait.
    ///
    /// # Errors
    /// Exit code 6.
    pub fn keep(&self, house: &House) -> Result<(), Trouble> {
        let text = serde_json::to_string(self).map_err(|e| Trouble::internal(e.to_string()))?;
        house.change(|job| job.note(Station::Rig, [(KEY.to_owned(), text)]))
    }

    /// It is saved, or not wanted any more.
    ///
    /// # Errors
    /// Exit code 6.
    pub fn forget(house: &House) -> Result<(), Trouble> {
        if house.job().typed(Station::Rig, KEY).is_empty() {
            return Ok(());
        }
        house.change(|job| job.note(Station::Rig, [(KEY.to_owned(), String::new())]))
    }

    /// Back to it, with what was added chosen in the field that it was added for.
    ///
    /// # Errors
    /// Exit code 6.
    pub fn back(house: &House, field: &str, chosen: &str) -> Result<Option<String>, Trouble> {
        let Some(mut draft) = link(field).and(Self::waiting(house)) else { return Ok(None) };
        draft.sent.retain(|(name, _)| name != field);
        draft.sent.push((field.to_owned(), chosen.to_owned()));
        draft.keep(house)?;
        let mut pairs = vec![("draft", "yes")];
        if !draft.of.is_empty() {
            pairs.extend([("name", draft.of.as_str()), ("do", "edit")]);
        }
        Ok(Some(format!("{}?{}", path(Thing::Rig), asked(&pairs))))
    }
}
