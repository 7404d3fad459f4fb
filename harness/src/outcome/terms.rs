//! What narrows the meaning of 'kept' by agreement: waivers, rules switched off, limits loosened.

use crate::date::Date;
use serde::Serialize;

/// The terms under which a run was judged.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Terms {
    /// The day against which waivers were judged, where the user named one.
    pub as_of: Option<Date>,
    /// Name of the spec against which limits, waivers and switched-off rules are compared; the defaults, where absent.
    pub baseline: Option<String>,
    /// The waivers of the spec, in its order.
    pub waivers: Vec<WaiverRow>,
    /// The rules switched off.
    pub off: Vec<OffRow>,
    /// The limits looser than those of the baseline or the defaults.
    pub loosened: Vec<Loosened>,
}

/// A waiver and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct WaiverRow {
    /// The rule.
    pub rule: String,
    /// The failing cause that it covers.
    pub cause: String,
    /// Why.
    pub reason: String,
    /// Who decided, by role.
    pub role: String,
    /// The last day on which it holds.
    pub expires: Date,
    /// What became of it.
    pub state: WaiverState,
    /// It isn't in the baseline; `None` without one.
    pub new: Option<bool>,
}

/// What became of a waiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WaiverState {
    /// It covers a failing moment of this run.
    Covers,
    /// Nothing in this run needs it.
    NotNeeded,
    /// Its last day has passed: it covers nothing.
    Ended,
}

/// A rule switched off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct OffRow {
    /// The rule.
    pub rule: String,
    /// Why.
    pub reason: String,
    /// It isn't off in the baseline; `None` without one.
    pub new: Option<bool>,
}

/// A limit made looser.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Loosened {
    /// The limit.
    pub name: String,
    /// The tighter value.
    pub from: String,
    /// The looser one that was judged by.
    pub to: String,
}

impl WaiverRow {
    /// "until 2027-03-01 by the release manager: reason", or that it has ended.
    #[must_use]
    pub fn says(&self) -> String {
        let Self { reason, role, expires, .. } = self;
        let when = match self.state {
            WaiverState::Ended => format!("ended on {expires} and covers nothing"),
            WaiverState::Covers => format!("until {expires}"),
            WaiverState::NotNeeded => format!("not needed in this run, until {expires}"),
        };
        let new = if self.new == Some(true) { ", new since the baseline" } else { "" };
        format!("{when}{new}; {role}: {reason}")
    }
}
