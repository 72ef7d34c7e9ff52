//! Where one label contradicts another: a cell keeps the label that it was made with.

use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_verdict::limit_figure;

/// What stands on one label and otherwise on another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Other {
    /// What it is.
    pub name: &'static str,
    /// On the one.
    pub before: String,
    /// On the other.
    pub now: String,
}

/// Returns where two labels contradict one another; what is only missing on one contradicts nothing.
pub fn other_label(before: &Nameplate, now: &Nameplate) -> Vec<Other> {
    let same_origin = before.thickness_from == now.thickness_from;
    let stated = |label: &Nameplate| (!label.end_of_discharge_assumed).then_some(label.end_of_discharge_v);
    let thick = |label: &Nameplate| label.nominal_thickness_mm.filter(|_| same_origin);
    let numbers = [
        ("charge limit", Some(before.charge_limit_v), Some(now.charge_limit_v), "V"),
        ("rated capacity", Some(before.rated_capacity_ah), Some(now.rated_capacity_ah), "Ah"),
        ("end of discharge", stated(before), stated(now), "V"),
        ("nominal voltage", before.nominal_v, now.nominal_v, "V"),
        ("thickness", thick(before), thick(now), "mm"),
    ];
    let mut told: Vec<Other> = numbers
        .into_iter()
        .filter_map(|(name, before, now, unit)| Some((name, before?, now?, unit)))
        .filter(|(_, before, now, _)| before != now)
        .map(|(name, before, now, unit)| Other {
            name,
            before: limit_figure(before, unit),
            now: limit_figure(now, unit),
        })
        .collect();
    // "Lithium ion" names no chemistry, but rules out the iron phosphate that would have been named.
    let named = |chemistry| chemistry != Chemistry::LithiumIon;
    let phosphate = |chemistry| chemistry == Chemistry::Lfp;
    let (old, new) = (before.chemistry, now.chemistry);
    if old != new && (named(old) && named(new) || phosphate(old) != phosphate(new)) {
        told.push(Other { name: "chemistry", before: old.key().to_owned(), now: new.key().to_owned() });
    }
    let (old, new) = (before.form, now.form);
    if old != new && old != Form::Unknown && new != Form::Unknown {
        told.push(Other { name: "form", before: old.key().to_owned(), now: new.key().to_owned() });
    }
    // The shop's own word for the type, which is typed: case and blanks make no other type.
    let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    if let (Some(old), Some(new)) = (&before.model, &now.model)
        && plain(old) != plain(new)
    {
        told.push(Other { name: "model", before: old.clone(), now: new.clone() });
    }
    told
}
