//! A nameplate while it is gathered from a file and options, with everything that is wrong with it.
//!
//! Takes text and options; gives a checked nameplate or all problems. The last word is [`Nameplate::faults`].

use super::{KEYS, Overrides, Problem};
use crate::nameplate::{Chemistry, Form, Nameplate, ThicknessFrom};
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Keys that other parts of the program read from the same file.
const ELSEWHERE: [&str; 2] = ["id", "observations"];
/// A name that differs by no more letters than this is taken for a slip of the pen.
const SLIP: usize = 2;

/// A nameplate while it is gathered.
#[derive(Default)]
pub(super) struct Draft {
    numbers: BTreeMap<&'static str, f64>,
    words: BTreeMap<&'static str, String>,
    lines: BTreeMap<&'static str, usize>,
    warnings: Vec<String>,
    problems: Vec<Problem>,
}

impl Draft {
    /// Takes what a file says.
    pub(super) fn take_file(&mut self, text: &str) {
        let line = |at: usize| 1 + text.get(..at).map_or(0, |before| before.matches('\n').count());
        let table = match DeTable::parse(text) {
            Ok(table) => table.into_inner(),
            Err(error) => {
                let text = format!(
                    "not readable as TOML: {}; write lines like `charge_limit_v = 4.35`",
                    error.message()
                );
                let line = error.span().map(|span| line(span.start));
                self.problems.push(Problem { line, key: String::new(), text });
                return;
            }
        };
        let present: Vec<String> = table.keys().map(|key| key.get_ref().to_string()).collect();
        for (key, value) in &table {
            let written = key.get_ref().as_ref();
            let at = line(key.span().start);
            if let Some(key) = KEYS.into_iter().find(|known| *known == written) {
                self.lines.insert(key, at);
                self.take_value(key, value, at);
            } else if !ELSEWHERE.contains(&written) {
                self.unknown_key(written, at, &present);
            }
        }
    }

    fn take_value(&mut self, key: &'static str, value: &Spanned<DeValue<'_>>, line: usize) {
        let wants_words = matches!(key, "chemistry" | "form" | "model" | "thickness_from");
        let value = value.get_ref();
        let number = match value {
            DeValue::Integer(integer) => {
                i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|n| n as f64)
            }
            DeValue::Float(float) => float.as_str().parse().ok(),
            _ => None,
        };
        match (number, value.as_str()) {
            (Some(number), _) if !wants_words => {
                self.numbers.insert(key, number);
            }
            (_, Some(words)) if wants_words => {
                self.words.insert(key, words.to_owned());
            }
            _ => {
                let wanted = if wants_words { "words in quotes" } else { "a number without quotes or unit" };
                self.problem(Some(line), key, format!("is {}, where {wanted} must stand", value.type_str()));
            }
        }
    }

    fn unknown_key(&mut self, written: &str, line: usize, present: &[String]) {
        let distances = KEYS.into_iter().map(|known| (distance(written, known), known));
        let Some((distance, closest)) = distances.min() else { return };
        if distance <= SLIP && !present.iter().any(|key| key == closest) {
            self.problem(Some(line), written, format!("is no key of a nameplate; did you mean `{closest}`?"));
        } else {
            self.warnings.push(format!(
                "line {line}: the key `{written}` is not used (the closest known one is `{closest}`)"
            ));
        }
    }

    /// Takes what options say; they win.
    pub(super) fn take_options(&mut self, options: &Overrides) {
        let numbers = [
            ("rated_capacity_ah", options.rated_capacity_ah),
            ("charge_limit_v", options.charge_limit_v),
            ("end_of_discharge_v", options.end_of_discharge_v),
            ("nominal_v", options.nominal_v),
            ("nominal_thickness_mm", options.nominal_thickness_mm),
            ("mass_g", options.mass_g),
        ];
        for (key, value) in numbers {
            let Some(value) = value else { continue };
            if let Some(before) = self.numbers.insert(key, value).filter(|before| *before != value) {
                self.warnings.push(format!("{key}: the option {value} was used and not the file's {before}"));
            }
            self.lines.remove(key);
        }
        for (key, value) in [
            ("model", &options.model),
            ("chemistry", &options.chemistry),
            ("form", &options.form),
            ("thickness_from", &options.thickness_from),
        ] {
            let Some(value) = value else { continue };
            self.words.insert(key, value.clone());
            self.lines.remove(key);
        }
    }

    /// Checks the whole.
    pub(super) fn finish(mut self) -> Result<Nameplate, Vec<Problem>> {
        let chemistry = self.word("chemistry", Chemistry::from_label, Chemistry::WORDS);
        let form = self.word("form", Form::from_label, Form::WORDS);
        let thickness_from = self.word("thickness_from", ThicknessFrom::from_label, ThicknessFrom::WORDS);
        let model =
            self.words.get("model").map(|name| name.trim().to_owned()).filter(|name| !name.is_empty());
        let rated_capacity_ah = self.required("rated_capacity_ah", "the rated capacity in Ah (mAh / 1000)");
        let charge_limit_v = self.required("charge_limit_v", "the charge-limit voltage in V");
        let end_of_discharge_v = self.numbers.get("end_of_discharge_v").copied().unwrap_or_else(|| {
            let usual = chemistry.usual_end_of_discharge_v();
            let text =
                format!("the label tells no end-of-discharge voltage; {usual:.1} V was taken as usual");
            self.warnings.push(text);
            usual
        });
        let number = |key| self.numbers.get(key).copied();
        let nameplate = Nameplate {
            model,
            // A missing figure has its problem already; a sound one in its place keeps the checks of the others apart.
            rated_capacity_ah: rated_capacity_ah.unwrap_or(1.0),
            charge_limit_v: charge_limit_v.unwrap_or(if chemistry == Chemistry::Lfp { 3.65 } else { 4.5 }),
            end_of_discharge_v,
            nominal_v: number("nominal_v"),
            nominal_thickness_mm: number("nominal_thickness_mm"),
            thickness_from,
            chemistry,
            form,
            mass_g: number("mass_g"),
            warnings: self.warnings.clone(),
        };
        for (key, text) in nameplate.faults() {
            self.problem(self.lines.get(key).copied(), key, text);
        }
        if self.problems.is_empty() { Ok(nameplate) } else { Err(self.problems) }
    }

    /// Reads a word; one that is not known is a problem and never a guess: limits and tables hang on it.
    fn word<T: Default>(&mut self, key: &'static str, parse: impl Fn(&str) -> Option<T>, known: &str) -> T {
        let Some(text) = self.words.get(key) else { return T::default() };
        if let Some(word) = parse(text) {
            return word;
        }
        let text = format!("`{text}` is not known here; write {known}, or leave the key out");
        self.problem(self.lines.get(key).copied(), key, text);
        T::default()
    }

    fn required(&mut self, key: &'static str, what: &str) -> Option<f64> {
        let value = self.numbers.get(key).copied();
        // A value of the wrong type or a misspelt key has its own problem and is not missing as well.
        let told = self.lines.contains_key(key)
            || self.problems.iter().any(|p| p.key.is_empty() || distance(&p.key, key) <= SLIP);
        if value.is_none() && !told {
            self.problem(
                None,
                key,
                format!("is missing; read {what} off the cell's label, it is never guessed"),
            );
        }
        value
    }

    fn problem(&mut self, line: Option<usize>, key: &str, text: String) {
        self.problems.push(Problem { line, key: key.to_owned(), text });
    }
}

/// Returns how many letters must be changed, added or left out to get from one word to the other (Levenshtein).
pub(super) fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        if let Some(first) = row.first_mut() {
            *first = left;
        }
        for (other, cell) in b.iter().zip(row.iter_mut().skip(1)) {
            let changed = diagonal + usize::from(letter != *other);
            diagonal = *cell;
            *cell = changed.min(diagonal + 1).min(left + 1);
            left = *cell;
        }
    }
    row.last().copied().unwrap_or(0)
}
