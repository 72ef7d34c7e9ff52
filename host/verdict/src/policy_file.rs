//! The policy file as it is written, turned into criteria; every mistake is told with its place.

use crate::criterion::{Class, Consequence, Criterion, LabelVoltage, NumberLimit, Subject};
use crate::evidence::{TRIP_CAUSES, trip_key};
use crate::judge::{Guard, Limit};
use crate::measurand::Measurand;
use crate::step::{Act, Step};
use crate::types::{CellState, Fate, Hazard};
use celltriage_measure::nameplate::{Chemistry, Form};
use celltriage_measure::observation::Sign;
use celltriage_written::{Fault, Faults, Place, read as read_whole};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use toml::Spanned;

/// What a policy file must say it is.
const SCHEMA: &str = "celltriage.policy/1";
/// One-sided risks that make sense: 0.5 is no guard at all, below 0.0001 nothing would ever pass.
const RISKS: std::ops::RangeInclusive<f64> = 0.0001..=0.5;

/// What a file holds besides its name.
pub(super) struct Parts {
    pub criteria: Vec<Criterion>,
    pub unfinished: Consequence,
    pub not_measured: Consequence,
    pub trips: BTreeMap<String, Consequence>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    schema: Spanned<String>,
    name: String,
    version: String,
    risk: Spanned<f64>,
    criterion: Vec<Spanned<CriterionEntry>>,
    unfinished: Spanned<ConsequenceEntry>,
    not_measured: Spanned<ConsequenceEntry>,
    #[serde(default)]
    trip: Vec<Spanned<TripEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CriterionEntry {
    id: Spanned<String>,
    title: String,
    sign: Option<Spanned<String>>,
    quantity: Option<Spanned<String>>,
    kind: Option<Kind>,
    limit: Option<Spanned<f64>>,
    limits: Option<Spanned<[f64; 2]>>,
    doubtful: Option<Spanned<f64>>,
    relative_to: Option<RelativeTo>,
    risk: Option<Spanned<f64>>,
    rest_s: Option<Spanned<f64>>,
    chemistries: Option<Spanned<Vec<Chemistry>>>,
    forms: Option<Spanned<Vec<Form>>>,
    mandatory: bool,
    on_fail: Spanned<Fate>,
    condition: Option<CellState>,
    hazard: Option<Hazard>,
    source: Spanned<String>,
    note: Option<String>,
    fail: String,
    settle: Option<String>,
    settle_acts: Option<Vec<Act>>,
    advice: Option<String>,
    advice_acts: Option<Vec<Act>>,
    #[serde(default)]
    hides: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ConsequenceEntry {
    on_fail: Spanned<Fate>,
    condition: Option<CellState>,
    hazard: Option<Hazard>,
    source: Spanned<String>,
    note: Option<String>,
    fail: String,
    advice: Option<String>,
    advice_acts: Option<Vec<Act>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TripEntry {
    cause: Spanned<String>,
    on_fail: Spanned<Fate>,
    condition: Option<CellState>,
    hazard: Option<Hazard>,
    source: Spanned<String>,
    note: Option<String>,
    fail: String,
    advice: Option<String>,
    advice_acts: Option<Vec<Act>>,
}

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

/// A mistake with the bytes it stands at.
type Wrong = (Range<usize>, String);

/// Reads name, version and parts of a policy.
pub(super) fn read(text: &str, file: &str) -> Result<(String, String, Parts), Faults> {
    let entries: File = read_whole(file, text)?;
    let fault = |(span, what): Wrong| Fault { place: Place::of(file, text, Some(span)), what };
    let at = |wrong: Wrong| Faults(vec![fault(wrong)]);
    if entries.schema.get_ref() != SCHEMA {
        let what = format!("this is not a policy that this program reads; it must say schema = \"{SCHEMA}\"");
        return Err(at((entries.schema.span(), what)));
    }
    let risk = checked_risk(&entries.risk).map_err(at)?;

    let mut seen = BTreeSet::new();
    let mut criteria = Vec::new();
    let mut faults = Vec::new();
    for entry in entries.criterion {
        let span = entry.span();
        let entry = entry.into_inner();
        if !seen.insert(entry.id.get_ref().clone()) {
            let what =
                format!("the criterion \"{}\" is there twice; give each its own id", entry.id.get_ref());
            faults.push(fault((entry.id.span(), what)));
        }
        match criterion(entry, span, risk) {
            Ok(one) => criteria.push(one),
            Err(wrong) => faults.push(fault(wrong)),
        }
    }

    let mut trips = BTreeMap::new();
    for entry in entries.trip {
        let TripEntry { cause, on_fail, condition, hazard, source, note, fail, advice, advice_acts } =
            entry.into_inner();
        let known = TRIP_CAUSES.map(trip_key);
        if !known.contains(&cause.get_ref().as_str()) {
            let what =
                format!("\"{}\" is not a cause of a trip; there are {}", cause.get_ref(), known.join(", "));
            faults.push(fault((cause.span(), what)));
            continue;
        }
        let entry = ConsequenceEntry { on_fail, condition, hazard, source, note, fail, advice, advice_acts };
        match consequence(entry) {
            Ok(one) => {
                if trips.insert(cause.get_ref().clone(), one).is_some() {
                    let what = format!("the cause \"{}\" is there twice", cause.get_ref());
                    faults.push(fault((cause.span(), what)));
                }
            }
            Err(wrong) => faults.push(fault(wrong)),
        }
    }
    if !faults.is_empty() {
        return Err(Faults(faults));
    }
    let unfinished = consequence(entries.unfinished.into_inner()).map_err(at)?;
    let not_measured = consequence(entries.not_measured.into_inner()).map_err(at)?;
    Ok((entries.name, entries.version, Parts { criteria, unfinished, not_measured, trips }))
}

fn criterion(entry: CriterionEntry, span: Range<usize>, risk: f64) -> Result<Criterion, Wrong> {
    let subject = match (&entry.sign, &entry.quantity) {
        (Some(key), None) => sign_subject(&entry, key)?,
        (None, Some(key)) => number_subject(&entry, key, &span, risk)?,
        _ => {
            return Err((
                span,
                "a criterion looks at either a sign or a quantity: write one of the two".to_owned(),
            ));
        }
    };
    let class = class(&entry)?;
    let hides = entry.hides.iter().map(measurand).collect::<Result<Vec<_>, _>>()?;
    let CriterionEntry {
        id,
        title,
        mandatory,
        on_fail,
        condition,
        hazard,
        source,
        note,
        fail,
        settle,
        settle_acts,
        advice,
        advice_acts,
        ..
    } = entry;
    let entry = ConsequenceEntry { on_fail, condition, hazard, source, note, fail, advice, advice_acts };
    let consequence = consequence(entry)?;
    let settle = settle.map(|text| Step::of_policy(text, settle_acts));
    Ok(Criterion { id: id.into_inner(), title, subject, class, mandatory, consequence, settle, hides })
}

fn class(entry: &CriterionEntry) -> Result<Class, Wrong> {
    let spans = [entry.chemistries.as_ref().map(Spanned::span), entry.forms.as_ref().map(Spanned::span)];
    if let (Some(_), Some(span)) = (&entry.sign, spans.into_iter().flatten().next()) {
        return Err((span, "a sign is looked for on every cell: remove it".to_owned()));
    }
    Ok(Class {
        chemistries: entry.chemistries.as_ref().map(|all| all.get_ref().clone()),
        forms: entry.forms.as_ref().map(|all| all.get_ref().clone()),
    })
}

fn sign_subject(entry: &CriterionEntry, key: &Spanned<String>) -> Result<Subject, Wrong> {
    let numeric = [&entry.limit, &entry.doubtful, &entry.risk, &entry.rest_s];
    if let Some(number) = numeric.into_iter().flatten().next() {
        return Err((
            number.span(),
            "a sign is answered yes or no and takes no number here: remove it".to_owned(),
        ));
    }
    let sign = Sign::from_key(key.get_ref()).ok_or_else(|| {
        let known = Sign::ALL.map(Sign::key).join(", ");
        (key.span(), format!("\"{}\" is not a sign of the checklist; the signs are {known}", key.get_ref()))
    })?;
    Ok(Subject::Sign(sign))
}

fn number_subject(
    entry: &CriterionEntry,
    key: &Spanned<String>,
    span: &Range<usize>,
    risk: f64,
) -> Result<Subject, Wrong> {
    let measurand = measurand(key)?;
    let limit = limit(entry, span)?;
    let relative_to = entry.relative_to.map(|voltage| match voltage {
        RelativeTo::ChargeLimit => LabelVoltage::ChargeLimit,
        RelativeTo::EndOfDischarge => LabelVoltage::EndOfDischarge,
    });
    let risk = entry.risk.as_ref().map_or(Ok(risk), checked_risk)?;
    let rest_s = entry.rest_s.as_ref().map(finite).transpose()?;
    Ok(Subject::Number(NumberLimit { measurand, limit, relative_to, guard: Guard::for_risk(risk), rest_s }))
}

fn measurand(key: &Spanned<String>) -> Result<Measurand, Wrong> {
    Measurand::from_key(key.get_ref()).ok_or_else(|| {
        let estimates = celltriage_measure::estimate::Quantity::ALL.map(|quantity| quantity.key()).join(", ");
        let own = Measurand::ResistanceTimesCapacity.key();
        (key.span(), format!("\"{}\" is not a quantity; there are {estimates}, {own}", key.get_ref()))
    })
}

fn limit(entry: &CriterionEntry, span: &Range<usize>) -> Result<Limit, Wrong> {
    let one = |word: &str| {
        if let Some(limits) = &entry.limits {
            return Err((limits.span(), "limits = [low, high] goes with kind = \"within\" only".to_owned()));
        }
        let missing = || (span.clone(), format!("kind = \"{word}\" needs limit = a number"));
        let limit = entry.limit.as_ref().ok_or_else(missing)?;
        let doubtful = entry.doubtful.as_ref().unwrap_or(limit);
        Ok((finite(limit)?, finite(doubtful)?, doubtful.span()))
    };
    let wrong_side = |span| (span, "doubtful must lie on the passing side of the limit".to_owned());
    match entry.kind {
        Some(Kind::AtMost) => {
            let (limit, doubtful, span) = one("at_most")?;
            if doubtful <= limit { Ok(Limit::AtMost { limit, doubtful }) } else { Err(wrong_side(span)) }
        }
        Some(Kind::AtLeast) => {
            let (limit, doubtful, span) = one("at_least")?;
            if doubtful >= limit { Ok(Limit::AtLeast { limit, doubtful }) } else { Err(wrong_side(span)) }
        }
        Some(Kind::Within) => match entry.limits.as_ref().map(|limits| (limits.get_ref(), limits.span())) {
            Some(([low, high], _)) if low < high && low.is_finite() && high.is_finite() => {
                Ok(Limit::Within { low: *low, high: *high })
            }
            Some((_, span)) => Err((span, "limits needs the lower number first, then the higher".to_owned())),
            None => Err((span.clone(), "kind = \"within\" needs limits = [low, high]".to_owned())),
        },
        None => Err((span.clone(), "a quantity needs a kind: at_most, at_least or within".to_owned())),
    }
}

fn consequence(entry: ConsequenceEntry) -> Result<Consequence, Wrong> {
    let ConsequenceEntry { on_fail, condition, hazard, source, note, fail, advice, advice_acts } = entry;
    if *on_fail.get_ref() == Fate::Reuse {
        let what = "a failure cannot lead to reuse; write recycle, quarantine or undecided".to_owned();
        return Err((on_fail.span(), what));
    }
    if source.get_ref().trim().is_empty() {
        let what = "source is empty; name the publication, or write \"common practice\"".to_owned();
        return Err((source.span(), what));
    }
    Ok(Consequence {
        fate: on_fail.into_inner(),
        condition,
        hazard,
        source: source.into_inner(),
        note,
        sentence: fail,
        advice: advice.map(|text| Step::of_policy(text, advice_acts)),
    })
}

fn finite(number: &Spanned<f64>) -> Result<f64, Wrong> {
    let value = *number.get_ref();
    if value.is_finite() { Ok(value) } else { Err((number.span(), "write a finite number".to_owned())) }
}

fn checked_risk(risk: &Spanned<f64>) -> Result<f64, Wrong> {
    if RISKS.contains(risk.get_ref()) {
        return Ok(*risk.get_ref());
    }
    let what = format!("a risk lies between {} and {}; 0.05 is common", RISKS.start(), RISKS.end());
    Err((risk.span(), what))
}
