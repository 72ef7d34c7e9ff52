//! What the label says of the cell that a plan is for, as far as the guard has to know it.

use crate::plan::Plan;
use crate::units::MicroVolts;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// What the cell is made of, as far as its lowest voltage depends on it. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum Chemistry {
    /// Lithium ion, which one is not known: the strictest floor holds.
    #[default]
    Unknown = 0,
    /// Lithium cobalt oxide.
    Lco = 1,
    /// Lithium nickel manganese cobalt oxide.
    Nmc = 2,
    /// Lithium nickel cobalt aluminium oxide.
    Nca = 3,
    /// Lithium manganese oxide.
    Lmo = 4,
    /// Lithium iron phosphate.
    Lfp = 5,
}

/// What the label says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct CellLabel {
    /// What the cell is made of.
    pub chemistry: Chemistry,
    /// End-of-discharge voltage; `None` where the label gives none.
    pub end_of_discharge: Option<MicroVolts>,
}

/// A plan and the label of the cell that it is for. The guard's floor comes from the label, so that both are loaded,
/// checked and forgotten together.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct CellPlan {
    /// The label.
    pub label: CellLabel,
    /// The plan.
    pub plan: Plan,
}

/// A plan for something of which no label is known, e.g. a supply on the leads: the strictest floor holds.
impl From<&Plan> for CellPlan {
    fn from(plan: &Plan) -> Self {
        Self { label: CellLabel::default(), plan: plan.clone() }
    }
}

impl From<&CellPlan> for CellPlan {
    fn from(plan: &CellPlan) -> Self {
        plan.clone()
    }
}
