//! One `[[criterion]]` of a policy file, turned into a [`Criterion`].

use crate::consequence_file::{self, consequence, step, value};
use crate::criterion::{Class, Criterion, LabelVoltage, NumberLimit, Sensed, Subject};
use crate::limit::{Guard, Limit};
use crate::measurand::Measurand;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::{Chemistry, Form};
use celltriage_measure::observation::Sign;
use celltriage_written::{Fields, Found, Reading, suggestion};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::ops::Range;

/// One-sided risks that make sense: 0.5 would be no guard at all, below 0.0001 nothing would ever pass (our choice).
pub(super) const RISKS: std::ops::RangeInclusive<f64> = 0.0001..=0.5;
/// The keys of a criterion besides those of its consequence.
const KEYS: [&str; 23] = [
    "id",
    "title",
    "sign",
    "quantity",
    "kind",
    "limit",
    "limits",
    "doubtful",
    "relative_to",
    "risk",
    "rest_s",
    "unless_cooling",
    "up_to_it",
    "unclear_after_s",
    "settling_v",
    "or_flat",
    "chemistries",
    "forms",
    "sensed",
    "mandatory",
    "settle",
    "settle_acts",
    "hides",
];

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    AtMost,
    AtLeast,
    Within,
}

#[derive(Clone, Copy, Deserialize)]
enum RelativeTo {
    #[serde(rename = "charge_limit_v")]
    ChargeLimit,
    #[serde(rename = "end_of_discharge_v")]
    EndOfDischarge,
}

/// The keys of a criterion that belong to a number.
struct Figures {
    kind: Option<Found<Kind>>,
    limit: Option<Found<f64>>,
    limits: Option<Found<[f64; 2]>>,
    doubtful: Option<Found<f64>>,
    relative_to: Option<RelativeTo>,
    risk: Option<Found<f64>>,
    rest_s: Option<Found<f64>>,
    unless_cooling: Option<Found<bool>>,
    up_to_it: Option<Found<f64>>,
    unclear_after_s: Option<Found<f64>>,
    settling_v: Option<Found<f64>>,
    or_flat: Option<Found<bool>>,
}

impl Figures {
    fn take(fields: &mut Fields<'_>, reading: &mut Reading<'_>) -> Self {
        Self {
            kind: fields.take("kind", reading),
            limit: finite(fields, "limit", reading),
            limits: fields.take("limits", reading),
            doubtful: finite(fields, "doubtful", reading),
            relative_to: value(fields, "relative_to", reading),
            risk: fields.take("risk", reading),
            rest_s: finite(fields, "rest_s", reading),
            unless_cooling: fields.take("unless_cooling", reading),
            up_to_it: finite(fields, "up_to_it", reading),
            unclear_after_s: finite(fields, "unclear_after_s", reading),
            settling_v: finite(fields, "settling_v", reading),
            or_flat: fields.take("or_flat", reading),
        }
    }

    /// Returns where a number stands that a sign has no use for.
    fn first_number(&self) -> Option<Range<usize>> {
        let rests = [&self.rest_s, &self.unclear_after_s, &self.settling_v];
        let numbers = [&self.limit, &self.doubtful, &self.risk, &self.up_to_it].into_iter().chain(rests);
        let numbers = numbers.map(span_of);
        numbers.chain([&self.unless_cooling, &self.or_flat].map(span_of)).flatten().next()
    }

    /// Returns the limit; `table` is where the criterion begins.
    fn limit(&self, table: Range<usize>, reading: &mut Reading<'_>) -> Option<Limit> {
        let Some(kind) = &self.kind else {
            reading.add(table, "a quantity needs a kind: at_most, at_least or within");
            return None;
        };
        match kind.value {
            Kind::AtMost => {
                let (limit, doubtful) =
                    self.one_sided("at_most", |limit, doubtful| doubtful <= limit, reading)?;
                Some(Limit::AtMost { limit, doubtful })
            }
            Kind::AtLeast => {
                let (limit, doubtful) =
                    self.one_sided("at_least", |limit, doubtful| doubtful >= limit, reading)?;
                Some(Limit::AtLeast { limit, doubtful })
            }
            Kind::Within => match &self.limits {
                Some(Found { value: [low, high], .. })
                    if low < high && low.is_finite() && high.is_finite() =>
                {
                    Some(Limit::Within { low: *low, high: *high })
                }
                Some(Found { span, .. }) => {
                    reading.add(span.clone(), "limits needs the lower number first, then the higher");
                    None
                }
                None => {
                    reading.add(kind.span.clone(), "kind = \"within\" needs limits = [low, high]");
                    None
                }
            },
        }
    }

    /// Returns limit and doubtful bound of a limit with one side; `passes` says whether the bound lies on the passing one.
    fn one_sided(
        &self,
        word: &str,
        passes: impl Fn(f64, f64) -> bool,
        reading: &mut Reading<'_>,
    ) -> Option<(f64, f64)> {
        if let Some(limits) = &self.limits {
            reading.add(limits.span.clone(), "limits = [low, high] goes with kind = \"within\" only");
            return None;
        }
        let Some(limit) = &self.limit else {
            let span = self.kind.as_ref().map_or(0..0, |kind| kind.span.clone());
            reading.add(span, format!("kind = \"{word}\" needs limit = a number"));
            return None;
        };
        let doubtful = self.doubtful.as_ref().unwrap_or(limit);
        if !passes(limit.value, doubtful.value) {
            reading.add(doubtful.span.clone(), "doubtful must lie on the passing side of the limit");
            return None;
        }
        Some((limit.value, doubtful.value))
    }
}

/// Reads one criterion; `risk` is the policy's own, `ids` the names that are taken.
pub(super) fn criterion(
    mut fields: Fields<'_>,
    risk: f64,
    ids: &mut BTreeSet<String>,
    reading: &mut Reading<'_>,
) -> Option<Criterion> {
    let table = fields.span();
    let id = fields.need::<String>("id", reading);
    if let Some(Found { value, span }) = id.as_ref().filter(|id| !ids.insert(id.value.clone())) {
        reading.add(span.clone(), format!("the criterion \"{value}\" is there twice; give each its own id"));
    }
    let title = fields.need::<String>("title", reading);
    let sign = fields.take::<String>("sign", reading);
    let quantity = fields.take::<String>("quantity", reading);
    let figures = Figures::take(&mut fields, reading);
    let chemistries = fields.take::<Vec<Chemistry>>("chemistries", reading);
    let forms = fields.take::<Vec<Form>>("forms", reading);
    let sensed = fields.take::<Vec<Sensed>>("sensed", reading);
    let of_a_class = || span_of(&chemistries).or_else(|| span_of(&forms)).or_else(|| span_of(&sensed));
    if let (Some(_), Some(span)) = (&sign, of_a_class()) {
        reading.add(span, "a sign is looked for on every cell: remove it");
    }
    let subject = match (sign, quantity) {
        (Some(key), None) => sign_subject(key, &figures, reading).map(Subject::Sign),
        (None, Some(key)) => number_subject(key, figures, table, risk, reading).map(Subject::Number),
        _ => {
            reading.add(table, "a criterion looks at either a sign or a quantity: write one of the two");
            None
        }
    };
    let mandatory = fields.need::<bool>("mandatory", reading);
    let consequence = consequence(&mut fields, reading);
    let settle = step(&mut fields, "settle", "settle_acts", reading);
    let hides = hides(&mut fields, reading);
    let keys: Vec<&str> = KEYS.into_iter().chain(consequence_file::KEYS).collect();
    fields.finish(&keys, reading);
    let class = Class {
        chemistries: chemistries.map(|found| found.value),
        forms: forms.map(|found| found.value),
        sensed: sensed.map(|found| found.value),
    };
    Some(Criterion {
        id: id?.value,
        title: title?.value,
        subject: subject?,
        class,
        mandatory: mandatory?.value,
        consequence: consequence?,
        settle,
        hides,
    })
}

fn sign_subject(key: Found<String>, figures: &Figures, reading: &mut Reading<'_>) -> Option<Sign> {
    if let Some(span) = figures.first_number() {
        reading.add(span, "a sign is answered yes or no and takes no number here: remove it");
    }
    let sign = Sign::from_key(&key.value);
    if sign.is_none() {
        let known = Sign::ALL.map(Sign::key);
        let meant = suggestion(&key.value, &known);
        let known = known.join(", ");
        let what = format!("\"{}\" is not a sign of the checklist{meant}; the signs are {known}", key.value);
        reading.add(key.span, what);
    }
    sign
}

fn number_subject(
    key: Found<String>,
    figures: Figures,
    table: Range<usize>,
    risk: f64,
    reading: &mut Reading<'_>,
) -> Option<NumberLimit> {
    let measurand = measurand(&key.value, key.span, reading);
    let limit = figures.limit(table, reading);
    let relative_to = figures.relative_to.map(|voltage| match voltage {
        RelativeTo::ChargeLimit => LabelVoltage::ChargeLimit,
        RelativeTo::EndOfDischarge => LabelVoltage::EndOfDischarge,
    });
    let risk = match figures.risk {
        Some(own) => checked_risk(own, reading)?,
        None => risk,
    };
    let rest_s = figures.rest_s.map(|found| found.value);
    if let Some(Found { span, .. }) = figures.up_to_it.as_ref().filter(|found| found.value <= 0.0) {
        reading.add(span.clone(), "up_to_it is a current in multiples of It: write a number above zero");
    }
    if let (Some(Found { span, .. }), None) = (&figures.settling_v, &figures.unclear_after_s) {
        reading.add(
            span.clone(),
            "settling_v needs unclear_after_s: the rest after which a cell no longer settles so fast",
        );
    }
    Some(NumberLimit {
        measurand: measurand?,
        limit: limit?,
        relative_to,
        guard: Guard::for_risk(risk),
        rest_s,
        unless_cooling: figures.unless_cooling.is_some_and(|found| found.value),
        up_to_it: figures.up_to_it.map(|found| found.value),
        unclear_after_s: figures.unclear_after_s.map(|found| found.value),
        settling_v: figures.settling_v.map(|found| found.value),
        or_flat: figures.or_flat.is_some_and(|found| found.value),
    })
}

fn hides(fields: &mut Fields<'_>, reading: &mut Reading<'_>) -> Vec<Measurand> {
    let Some(Found { value, span }) = fields.take::<Vec<String>>("hides", reading) else { return Vec::new() };
    value.iter().filter_map(|key| measurand(key, span.clone(), reading)).collect()
}

fn measurand(key: &str, span: Range<usize>, reading: &mut Reading<'_>) -> Option<Measurand> {
    let measurand = Measurand::from_key(key);
    if measurand.is_none() {
        let mut known = Quantity::ALL.map(Quantity::key).to_vec();
        known.push(Measurand::ResistanceTimesCapacity.key());
        let meant = suggestion(key, &known);
        reading.add(span, format!("\"{key}\" is not a quantity{meant}; there are {}", known.join(", ")));
    }
    measurand
}

/// Returns a risk that makes sense.
pub(super) fn checked_risk(risk: Found<f64>, reading: &mut Reading<'_>) -> Option<f64> {
    if RISKS.contains(&risk.value) {
        return Some(risk.value);
    }
    let what = format!("a risk lies between {} and {}; 0.05 is common", RISKS.start(), RISKS.end());
    reading.add(risk.span, what);
    None
}

/// Takes a number that is neither infinite nor undefined.
fn finite(fields: &mut Fields<'_>, key: &str, reading: &mut Reading<'_>) -> Option<Found<f64>> {
    let found = fields.take::<f64>(key, reading)?;
    if !found.value.is_finite() {
        reading.add(found.span, "write a finite number");
        return None;
    }
    Some(found)
}

fn span_of<T>(found: &Option<Found<T>>) -> Option<Range<usize>> {
    found.as_ref().map(|found| found.span.clone())
}
