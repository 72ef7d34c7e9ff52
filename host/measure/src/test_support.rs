//! What the tests of several crates share.

use crate::nameplate::{Chemistry, Form, Nameplate};

/// A 3 Ah cell of the 4.35 V class.
pub fn nameplate() -> Nameplate {
    Nameplate {
        model: None,
        rated_capacity_ah: 3.0,
        charge_limit_v: 4.35,
        end_of_discharge_v: 3.0,
        end_of_discharge_assumed: false,
        nominal_v: Some(3.8),
        nominal_thickness_mm: Some(4.0),
        thickness_from: Default::default(),
        chemistry: Chemistry::Lco,
        form: Form::Pouch,
        mass_g: None,
        warnings: Vec::new(),
    }
}
