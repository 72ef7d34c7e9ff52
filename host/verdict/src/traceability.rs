//! Whether a cell's life is recorded, as the decision takes it: `reuse` names what is, or says what a guidance makes of it.
//!
//! IEC 63338:2024, by its scope note, does not permit reuse of single cells whose lifetime traceability data are not recorded; the
//! note is known from catalogues of standards bodies, the document and its clause 4 were not read. It is guidance: the policy says
//! whether it bars. A cell that goes back into the device it came out of is a case of its own there.

use crate::consequence_file::value;
use crate::criterion::Consequence;
use crate::judged::{Judged, blank};
use crate::lifetime::Lifetime;
use crate::reason::{Finding, Value};
use crate::types::Fate;
use celltriage_written::{Fields, Reading};
use serde::Deserialize;

/// Name of the reason that tells what is recorded of a cell's life.
pub const LIFETIME_RECORD: &str = "lifetime_record";
/// The keys of the table in a policy file.
const KEYS: [&str; 4] = ["missing", "same_device", "wants", "source"];
/// Where the rule comes from, where the policy does not say.
const SOURCE: &str = "IEC 63338:2024, scope note (from catalogues; clause 4 not read)";
/// What would settle it.
const SETTLE: &str = "Write down what is known of its life: device or job, date on the cell, cycles and health as the device's own \
                      gauge shows them, known events, and who says so.";

/// What a policy makes of a cell whose life is not recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unrecorded {
    /// The decision says it.
    #[default]
    Say,
    /// It is not reused before that is recorded.
    Undecided,
}

/// What a policy may ask to be recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wanted {
    /// The device or the job.
    Device,
    /// The model of the cell.
    Model,
    /// The date on the cell.
    Date,
    /// Cycles by the gauge.
    Cycles,
    /// Health by the gauge.
    Health,
}

/// What a policy says of recorded lives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Traceability {
    /// Where it is not recorded.
    pub missing: Unrecorded,
    /// The same for a cell that is to go back into the device it came out of.
    pub same_device: Unrecorded,
    /// What must be recorded; empty: anything that tells of its life.
    pub wants: Vec<Wanted>,
    /// Where the rule comes from.
    pub source: String,
}

impl Default for Traceability {
    fn default() -> Self {
        let (missing, same_device) = (Unrecorded::Say, Unrecorded::Say);
        Self { missing, same_device, wants: Vec::new(), source: SOURCE.to_owned() }
    }
}

/// Reads the table `traceability` of a policy file; without one, what is missing is said and bars nothing.
pub(super) fn read(head: &mut Fields<'_>, reading: &mut Reading<'_>) -> Traceability {
    let usual = Traceability::default();
    if !head.has("traceability") {
        return usual;
    }
    let Some(mut table) = head.table("traceability", reading) else { return usual };
    let read = Traceability {
        missing: value(&mut table, "missing", reading).unwrap_or_default(),
        same_device: value(&mut table, "same_device", reading).unwrap_or_default(),
        wants: value(&mut table, "wants", reading).unwrap_or_default(),
        source: value(&mut table, "source", reading).unwrap_or(usual.source),
    };
    table.finish(&KEYS, reading);
    read
}

/// Makes the reason, where the decision comes to the point at which it matters: `without` is the fate without it.
pub(super) fn of_lifetime<'a>(
    terms: Option<&Traceability>,
    lifetime: Option<&Lifetime>,
    without: Fate,
) -> Option<Judged<'a>> {
    let terms = terms?;
    let nothing = Lifetime::default();
    let lifetime = lifetime.unwrap_or(&nothing);
    let lacking = terms.lacking(lifetime);
    let goes_back = lifetime.goes_back.as_ref().is_some_and(|back| back.value);
    let unrecorded = if goes_back { terms.same_device } else { terms.missing };
    let bars = lacking.is_some() && unrecorded == Unrecorded::Undecided;
    // Nobody needs to be told of it where the cell is at its end, or not yet proven and nothing will bar it.
    if !(without == Fate::Reuse || without == Fate::Undecided && bars) {
        return None;
    }
    let consequence = Consequence::of_question(terms.source.clone());
    let mut reason = blank(LIFETIME_RECORD, "lifetime record", &consequence, bars);
    reason.limit = Some(Value::Text("recorded".to_owned()));
    match lacking {
        None => {
            reason.finding = Finding::Pass;
            reason.value = Some(Value::Text(lifetime.words()));
            reason.text = format!(
                "Recorded of its life: {}. IEC 63338:2024 asks for recorded lifetime data where a single cell is to serve again; \
                 which data its clause 4 asks for was not read.",
                lifetime.words()
            );
        }
        Some(lacking) => {
            let only = if lifetime.is_empty() {
                "Nothing is recorded of its life".to_owned()
            } else {
                format!("Recorded is only: {}; {lacking}", lifetime.words())
            };
            let guidance = "IEC 63338:2024 does not permit reuse of a single cell without recorded lifetime data (scope note, from \
                            catalogues; the document itself was not read)";
            reason.text = if goes_back {
                format!(
                    "{only}. It is to go back into the device it came out of: whether that is covered where {guidance} was not \
                     read: ask."
                )
            } else {
                format!(
                    "{only}. {guidance}. Whether that holds for a cell that goes back into its own device was not read: ask."
                )
            };
            if bars {
                reason.text.push_str(" The policy asks for the record before reuse.");
                reason.settle = Some(SETTLE.to_owned());
            }
        }
    }
    Some(Judged { reason, condition: None, advice: None, settle_acts: Vec::new() })
}

impl Traceability {
    /// Says what is not recorded and asked for; `None` where nothing is lacking.
    fn lacking(&self, lifetime: &Lifetime) -> Option<String> {
        if self.wants.is_empty() {
            let told = lifetime.tells_of_its_life();
            return (!told).then(|| "no date, cycles, health or known event".to_owned());
        }
        let lacking: Vec<&str> =
            self.wants.iter().filter(|wanted| !wanted.is_in(lifetime)).map(|wanted| wanted.words()).collect();
        (!lacking.is_empty()).then(|| format!("not recorded: {}", lacking.join(", ")))
    }
}

impl Wanted {
    fn is_in(self, lifetime: &Lifetime) -> bool {
        match self {
            Self::Device => lifetime.came_from().is_some(),
            Self::Model => lifetime.model.is_some(),
            Self::Date => lifetime.dated.is_some(),
            Self::Cycles => lifetime.cycles.is_some(),
            Self::Health => lifetime.health_percent.is_some(),
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Device => "device or job",
            Self::Model => "model of the cell",
            Self::Date => "date on the cell",
            Self::Cycles => "cycles by the gauge",
            Self::Health => "health by the gauge",
        }
    }
}
