//! The query for a selection of entries.

use rusqlite::types::Value;

use super::super::store::Wanted;
use super::columns::COLUMNS;

/// Returns the query for what is wanted, with only the conditions that restrict, so that the right index is used.
pub(in super::super) fn selection(wanted: &Wanted<'_>) -> (String, Vec<Value>) {
    let mut conditions = Vec::new();
    let mut values: Vec<Value> = Vec::new();
    let mut from = "entry".to_owned();
    let mut order = "entry.number";
    let mut group = "";
    let mut add = |condition: &str, value: Value| {
        values.push(value);
        conditions.push(condition.replace('?', &format!("${}", values.len())));
    };
    if let Some(subject) = wanted.subject {
        // The subject's own part of the index first, in the order of numbers.
        from = "about CROSS JOIN entry ON entry.number = about.entry".to_owned();
        order = "about.entry";
        add("about.subject_kind = ?", subject.kind.word().to_owned().into());
        add("about.subject = ?", subject.name.clone().into());
        group = " GROUP BY about.entry";
    }
    let text = |text: &str| Value::Text(text.to_owned());
    wanted.kind.into_iter().for_each(|kind| add("kind = ?", text(kind)));
    wanted.fate.into_iter().for_each(|fate| add("fate = ?", text(fate)));
    wanted.since_ms.into_iter().for_each(|since| add("at_ms >= ?", since.into()));
    wanted.until_ms.into_iter().for_each(|until| add("at_ms < ?", until.into()));
    if let Some(words) = wanted.words {
        // SQLite's pattern would end at the NUL and match more than was asked for.
        add("NOT ?", words.contains('\0').into());
        if wanted.subject.is_none() && wanted.kind.is_none() && wanted.fate.is_none() {
            // All words one after the other; the entries of those that hold the text.
            from = "words CROSS JOIN entry ON entry.number = words.entry".to_owned();
            order = "words.entry";
            add(r"words.text LIKE ? ESCAPE '\'", anywhere(words).into());
        } else {
            let condition =
                r"EXISTS (SELECT 1 FROM words WHERE words.entry = entry.number AND text LIKE ? ESCAPE '\')";
            add(condition, anywhere(words).into());
        }
    }
    wanted.after.into_iter().for_each(|after| add(&format!("{order} > ?"), after.into()));
    let columns: Vec<String> = COLUMNS.split(", ").map(|column| format!("entry.{}", column.trim())).collect();
    let mut query = format!("SELECT {} FROM {from}", columns.join(", "));
    if !conditions.is_empty() {
        query.push_str(&format!(" WHERE {}", conditions.join(" AND ")));
    }
    // Some old entries name a subject twice.
    query.push_str(group);
    query.push_str(&format!(" ORDER BY {order}{}", if wanted.newest_first { " DESC" } else { "" }));
    if let Some(limit) = wanted.limit {
        query.push_str(&format!(" LIMIT {limit}"));
    }
    (query, values)
}

/// Returns the pattern that finds `text` anywhere; its own percent signs and underscores mean themselves.
fn anywhere(text: &str) -> String {
    let mut pattern = String::from("%");
    for letter in text.chars() {
        if matches!(letter, '%' | '_' | '\\') {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern.push('%');
    pattern
}
