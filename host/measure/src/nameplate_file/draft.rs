//! A nameplate while it is gathered from a file and options; every fault goes to the reading of that file.

use super::{KEYS, Overrides};
use crate::nameplate::{Chemistry, Form, Nameplate, ThicknessFrom};
use celltriage_written::{Fields, Reading, closest};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// Keys whose values are words; the others are numbers.
const WORDS: [&str; 4] = ["chemistry", "form", "model", "thickness_from"];
/// Keys that other parts of the program read from the same file.
const ELSEWHERE: [&str; 2] = ["id", "observations"];

/// A nameplate while it is gathered.
#[derive(Default)]
pub(super) struct Draft {
    numbers: BTreeMap<&'static str, f64>,
    words: BTreeMap<&'static str, String>,
    spans: BTreeMap<&'static str, Range<usize>>,
    /// Keys that have a fault already, so that they are not reported as missing too.
    faulty: BTreeSet<&'static str>,
    warnings: Vec<String>,
}

impl Draft {
    /// Takes what a file says.
    pub(super) fn take_file(&mut self, mut fields: Fields<'_>, reading: &mut Reading<'_>) {
        let present: Vec<&str> = KEYS.into_iter().filter(|key| fields.has(key)).collect();
        for key in KEYS {
            if !fields.has(key) {
                continue;
            }
            let span = if WORDS.contains(&key) {
                fields.take::<String>(key, reading).map(|found| {
                    self.words.insert(key, found.value);
                    found.span
                })
            } else {
                fields.take::<f64>(key, reading).map(|found| {
                    self.numbers.insert(key, found.value);
                    found.span
                })
            };
            match span {
                Some(span) => drop(self.spans.insert(key, span)),
                None => drop(self.faulty.insert(key)),
            }
        }
        let unknown = fields.left().into_iter().filter(|key| !ELSEWHERE.contains(&key.value.as_str()));
        for key in unknown {
            let written = key.value;
            match closest(&written, &KEYS).filter(|meant| !present.contains(meant)) {
                Some(meant) => {
                    reading.add(key.span, format!("unknown key `{written}`; did you mean `{meant}`?"));
                    self.faulty.extend(KEYS.into_iter().find(|key| *key == meant));
                }
                None => {
                    let line = reading.line_of(key.span);
                    self.warnings.push(format!("line {line}: the key `{written}` is not used"));
                }
            }
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
            self.spans.remove(key);
        }
        for (key, value) in [
            ("model", &options.model),
            ("chemistry", &options.chemistry),
            ("form", &options.form),
            ("thickness_from", &options.thickness_from),
        ] {
            let Some(value) = value else { continue };
            self.words.insert(key, value.clone());
            self.spans.remove(key);
        }
    }

    /// Checks the whole; what comes back is sound only if no fault was noted.
    pub(super) fn finish(mut self, reading: &mut Reading<'_>) -> Nameplate {
        let chemistry = self.word("chemistry", Chemistry::from_label, Chemistry::WORDS, reading);
        let form = self.word("form", Form::from_label, Form::WORDS, reading);
        let thickness_from =
            self.word("thickness_from", ThicknessFrom::from_label, ThicknessFrom::WORDS, reading);
        let model =
            self.words.get("model").map(|name| name.trim().to_owned()).filter(|name| !name.is_empty());
        let rated_capacity_ah =
            self.required("rated_capacity_ah", "the rated capacity in Ah (mAh / 1000)", reading);
        let charge_limit_v = self.required("charge_limit_v", "the charge-limit voltage in V", reading);
        let end_of_discharge_assumed = !self.numbers.contains_key("end_of_discharge_v");
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
            // A missing figure has its fault already; a sound one instead keeps the checks of the others apart.
            rated_capacity_ah: rated_capacity_ah.unwrap_or(1.0),
            charge_limit_v: charge_limit_v.unwrap_or(if chemistry == Chemistry::Lfp { 3.65 } else { 4.5 }),
            end_of_discharge_v,
            end_of_discharge_assumed,
            nominal_v: number("nominal_v"),
            nominal_thickness_mm: number("nominal_thickness_mm"),
            thickness_from,
            chemistry,
            form,
            mass_g: number("mass_g"),
            warnings: self.warnings.clone(),
        };
        for (key, text) in nameplate.faults() {
            self.fault(key, &text, reading);
        }
        nameplate
    }

    /// Reads a word; one that is not known is a fault and never a guess: limits and tables hang on it.
    fn word<T: Default>(
        &self,
        key: &'static str,
        parse: impl Fn(&str) -> Option<T>,
        known: &str,
        reading: &mut Reading<'_>,
    ) -> T {
        let Some(text) = self.words.get(key) else { return T::default() };
        parse(text).unwrap_or_else(|| {
            let text = format!("`{text}` is not known here; write {known}, or leave the key out");
            self.fault(key, &text, reading);
            T::default()
        })
    }

    fn required(&self, key: &'static str, what: &str, reading: &mut Reading<'_>) -> Option<f64> {
        let value = self.numbers.get(key).copied();
        if value.is_none() && !self.faulty.contains(key) {
            reading.add_whole(format!(
                "{key} is missing; read {what} off the cell's label, it is never guessed"
            ));
        }
        value
    }

    /// Notes a fault where its key stands, or of the whole where an option gave it.
    fn fault(&self, key: &str, text: &str, reading: &mut Reading<'_>) {
        let text = format!("{key}: {text}");
        match self.spans.get(key) {
            Some(span) => reading.add(span.clone(), text),
            None => reading.add_whole(text),
        }
    }
}
