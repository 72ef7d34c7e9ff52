//! A decision written again for another cell: name, days, model and measured numbers are other ones.

use crate::templates::{Decision, assessor};
use celltriage_assessment::history::History;
use celltriage_book::{NewAttachment, NewEntry, Subject, SubjectKind};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde_json::{Number, Value};

/// Whose decision, when, by which fixture.
pub struct Of<'a> {
    pub cell: &'a str,
    pub model: &'a str,
    pub at: Timestamp,
    pub fixture: u32,
}

/// Writes a decision again.
pub fn decision(template: &Decision, of: &Of<'_>, numbers: &mut ChaCha8Rng) -> NewEntry {
    let (mut inputs, mut result) = (template.entry.inputs.clone(), template.entry.result.clone());
    vary(&mut inputs, numbers);
    vary(&mut result, numbers);
    let day = of.at.to_zoned_datetime(TimeZone::UTC).date().to_string();
    put(&mut inputs, "/date", &day);
    put(&mut result, "/conditions/date", &day);
    put(&mut result, "/cell/id", of.cell);
    put(&mut result, "/conditions/fixture", &format!("pico2 board, serial {}, firmware 0.1.0", of.fixture));
    let port = format!("/dev/ttyACM{}", of.fixture);
    put(&mut inputs, "/source", &port);
    put(&mut result, "/conditions/source", &port);
    name_model(inputs.pointer_mut("/nameplate"), of.model);
    name_model(result.pointer_mut("/cell/nameplate"), of.model);
    if let Some(health) = result.pointer_mut("/health").filter(|health| health.is_object()) {
        health["model"] = of.model.into();
    }
    let personal: Vec<String> = assessor(&inputs).into_iter().collect();
    let head = &template.entry.head;
    let told = head.summary.strip_prefix(&head.subject.name).unwrap_or_default().trim_start();
    NewEntry {
        about: vec![Subject::new(SubjectKind::Model, of.model)],
        simulated: Some(false),
        fate: head.fate.clone(),
        summary: format!("{:<12} {told}", of.cell),
        program: head.program.clone(),
        inputs,
        result,
        personal,
        attachments: template.kept.iter().map(|kept| attachment(kept, of)).collect(),
        ..NewEntry::of(&head.kind, Subject::cell(of.cell), of.at)
    }
}

/// The label says the model, the history the time; the policy is the same one.
fn attachment(kept: &NewAttachment, of: &Of<'_>) -> NewAttachment {
    let bytes = match kept.name.as_str() {
        "label.toml" => {
            let label = String::from_utf8_lossy(&kept.bytes);
            format!("model = \"{}\"\n{label}", of.model).into_bytes()
        }
        "history.json" => {
            let known: History = serde_json::from_slice(&kept.bytes).expect("a history");
            let now = Some(of.at.to_zoned_datetime(TimeZone::UTC.to_offset(of.at).to_time_zone()));
            serde_json::to_vec(&History { now, ..known }).expect("JSON")
        }
        _ => kept.bytes.clone(),
    };
    NewAttachment { bytes, ..kept.clone() }
}

/// Moves each number that was computed, by up to 0.1 %: limits and settings have few digits and stay.
fn vary(value: &mut Value, numbers: &mut ChaCha8Rng) {
    match value {
        Value::Number(number) => {
            let computed = number.as_f64().filter(|value| (value * 1e4).fract().abs() > 1e-6);
            let moved = computed.map(|value| value * (1.0 + numbers.random_range(-1e-3..1e-3)));
            if let Some(moved) = moved.filter(|_| number.is_f64()).and_then(Number::from_f64) {
                *number = moved;
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|one| vary(one, numbers)),
        Value::Object(fields) => fields.values_mut().for_each(|one| vary(one, numbers)),
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

fn name_model(label: Option<&mut Value>, model: &str) {
    if let Some(label) = label.and_then(Value::as_object_mut) {
        label.insert("model".to_owned(), model.into());
    }
}

/// Puts another text where there is one.
fn put(value: &mut Value, place: &str, other: &str) {
    if let Some(text) = value.pointer_mut(place).filter(|text| text.is_string()) {
        *text = Value::from(other);
    }
}
