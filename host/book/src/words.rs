//! The words by which an entry is found: what a person would look for, kept beside the entry so that a search reads no JSON.

use serde_json::Value;

/// What a search looks at.
pub(super) struct Searched<'a> {
    pub(super) subject: &'a str,
    pub(super) fate: Option<&'a str>,
    pub(super) kind: &'a str,
    pub(super) summary: &'a str,
    pub(super) inputs: &'a Value,
}

/// Returns subject, fate, kind, summary, and the values (not the keys) of the inputs, a line each.
pub(super) fn words_of(searched: Searched<'_>) -> String {
    let mut words = String::new();
    let mut add = |text: &str| {
        words.push_str(text);
        words.push('\n');
    };
    add(searched.subject);
    searched.fate.into_iter().for_each(&mut add);
    add(searched.kind);
    add(searched.summary);
    values(searched.inputs, &mut add);
    words
}

fn values(value: &Value, add: &mut impl FnMut(&str)) {
    match value {
        Value::Null => {}
        Value::Bool(yes) => add(if *yes { "true" } else { "false" }),
        Value::Number(number) => add(&number.to_string()),
        Value::String(text) => add(text),
        Value::Array(list) => list.iter().for_each(|one| values(one, add)),
        Value::Object(fields) => fields.values().for_each(|one| values(one, add)),
    }
}
