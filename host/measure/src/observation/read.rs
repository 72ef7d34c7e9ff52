//! Reading observations: a TOML file, or single options of the form `sign=answer`.
//!
//! ```toml
//! assessor = "day shift, bench 2"
//! thickness_mm = [6.1, [6.2, 6.21, 6.19]]   # two points, the second read three times
//! lies_flat = true          # on a plate, on either face
//! sensed_at = "connector"   # tabs, cell_pads, pack_pads or connector
//! wires = 4                 # 2 or 4
//! adapter = 7               # the number written on it
//! label_again_ah = 3.0      # a second look at the label
//! [signs]
//! swollen = "no"          # yes, no, not_observed; true and false are taken as well
//! ```
//!
//! A comma that may be a decimal one is an error: see `thickness_readings.rs`.
//!
//! An unknown key or answer is an error with its place: a mistyped "swolen" must not read as "not swollen".

use super::thickness_readings::{believed, no_decimal_comma, of_one_point, thicknesses};
use super::wires::number_of_wires;
use super::{Answer, Observations, SensedAt, Sign};
use celltriage_written::{Faults, Fields, Reading, suggestion};
use toml::Value;

/// The keys of the file.
const KEYS: [&str; 13] = [
    "signs",
    "thickness_mm",
    "lies_flat",
    "new_cell",
    "charger_ended",
    "rested_h",
    "sensed_at",
    "wires",
    "adapter",
    "assessor",
    "note",
    "same_cell",
    "label_again_ah",
];

/// Why an option could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{given}\" is not an observation: {what}")]
pub struct ObservationError {
    /// What was given.
    pub given: String,
    /// What is wrong and what to write instead.
    pub what: String,
}

impl Observations {
    /// Reads a file's text; `file` is its name for messages.
    ///
    /// # Errors
    /// All faults of the file.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, Faults> {
        let (mut reading, mut fields) = Reading::begin(file, text);
        let r = &mut reading;
        let mut observations = Self {
            assessor: fields.take("assessor", r).map(|found| found.value),
            note: fields.take("note", r).map(|found| found.value),
            same_cell: fields.take("same_cell", r).map(|found| found.value),
            lies_flat: fields.take("lies_flat", r).map(|found| found.value),
            new_cell: fields.take("new_cell", r).is_some_and(|found| found.value),
            charger_ended: fields.take("charger_ended", r).is_some_and(|found| found.value),
            ..Self::default()
        };
        if let Some(signs) = fields.table("signs", r) {
            observations.take_signs(signs, r);
        }
        if let Some(hours) = fields.take::<f64>("rested_h", r) {
            match hours_at_rest(hours.value) {
                Ok(hours) => observations.rested_h = Some(hours),
                Err(what) => r.add(hours.span, what),
            }
        }
        if let Some(found) = fields.take::<f64>("label_again_ah", r) {
            match capacity_again(found.value) {
                Ok(capacity) => observations.label_again_ah = Some(capacity),
                Err(what) => r.add(found.span, what),
            }
        }
        if let Some(found) = fields.take::<u32>("wires", r) {
            match number_of_wires(found.value) {
                Ok(wires) => observations.wires = Some(wires),
                Err(what) => r.add(found.span, what),
            }
        }
        if let Some(found) = fields.take::<String>("sensed_at", r) {
            match place_from(&found.value) {
                Ok(place) => observations.sensed_at = Some(place),
                Err(what) => r.add(found.span, what),
            }
        }
        if let Some(found) = fields.take::<u32>("adapter", r) {
            match number_of_adapter(found.value) {
                Ok(number) => observations.adapter = Some(number),
                Err(what) => r.add(found.span, what),
            }
        }
        if let Some(found) = fields.take::<Value>("thickness_mm", r) {
            let written = r.text_at(found.span.clone());
            match no_decimal_comma(written).and_then(|()| thicknesses(&found.value)) {
                Ok(points) => points.into_iter().for_each(|point| observations.add_thickness(point)),
                Err(what) => r.add(found.span, what),
            }
        }
        fields.finish(&KEYS, r);
        reading.end(Some(observations))
    }

    fn take_signs(&mut self, mut signs: Fields<'_>, reading: &mut Reading<'_>) {
        for sign in Sign::ALL {
            let Some(found) = signs.take::<Value>(sign.key(), reading) else { continue };
            let answer = match &found.value {
                Value::Boolean(true) => Some(Answer::Yes),
                Value::Boolean(false) => Some(Answer::No),
                Value::String(words) => answer_from(words),
                _ => None,
            };
            match answer {
                Some(answer) => self.set(sign, answer),
                None => reading.add(found.span, unknown_answer(&found.value)),
            }
        }
        signs.finish(&Sign::ALL.map(Sign::key), reading);
    }

    /// Reads one option of the form `sign=answer`, for example `swollen=yes`.
    pub fn parse_option(given: &str) -> Result<(Sign, Answer), ObservationError> {
        let wrong = |what| ObservationError { given: given.to_owned(), what };
        let (key, words) = given
            .split_once('=')
            .ok_or_else(|| wrong("write sign=answer, for example swollen=no".to_owned()))?;
        let sign = Sign::from_key(key.trim()).ok_or_else(|| wrong(unknown_sign(key.trim())))?;
        let answer = answer_from(words).ok_or_else(|| wrong(unknown_answer(words.trim())))?;
        Ok((sign, answer))
    }

    /// Checks a rest in hours given as an option.
    pub fn check_rest(hours: f64) -> Result<f64, ObservationError> {
        hours_at_rest(hours).map_err(|what| ObservationError { given: hours.to_string(), what })
    }

    /// Checks a rated capacity in Ah that was read from the label again, given as an option.
    pub fn check_label_again(capacity_ah: f64) -> Result<f64, ObservationError> {
        capacity_again(capacity_ah).map_err(|what| ObservationError { given: capacity_ah.to_string(), what })
    }

    /// Reads a place of the sense leads given as an option.
    pub fn parse_sensed_at(given: &str) -> Result<SensedAt, ObservationError> {
        place_from(given).map_err(|what| ObservationError { given: given.to_owned(), what })
    }

    /// Checks the number of wires given as an option.
    pub fn check_wires(number: u32) -> Result<u32, ObservationError> {
        number_of_wires(number).map_err(|what| ObservationError { given: number.to_string(), what })
    }

    /// Checks the number of an adapter given as an option.
    pub fn check_adapter(number: u32) -> Result<u32, ObservationError> {
        number_of_adapter(number).map_err(|what| ObservationError { given: number.to_string(), what })
    }

    /// Reads the readings of one point in mm, with spaces, semicolons or commas between.
    ///
    /// # Errors
    /// A sentence if a reading is not a thickness, a comma may be a decimal one, or the readings are not of one point.
    pub fn parse_thickness(given: &str) -> Result<Vec<f64>, ObservationError> {
        let wrong = |what| ObservationError { given: given.to_owned(), what };
        no_decimal_comma(given).map_err(wrong)?;
        let words = given.split([',', ';', ' ', '\t']).filter(|word| !word.is_empty() && *word != "mm");
        let readings: Result<Vec<f64>, _> = words
            .map(|one| {
                // People write the unit as they read it off.
                let number = one.strip_suffix("mm").unwrap_or(one).parse().map_err(|_| {
                    "write a thickness in mm, several readings of one point with spaces or ; between: 3.31 3.30"
                        .to_owned()
                })?;
                believed(number)
            })
            .collect();
        readings.and_then(of_one_point).map_err(wrong)
    }
}

/// The ends of the range stand for "no adapter" and "number not said" on the wire.
fn number_of_adapter(number: u32) -> Result<u32, String> {
    match number {
        0 | u32::MAX => Err("an adapter's number is 1 or more; write the one that is on it".to_owned()),
        number => Ok(number),
    }
}

fn place_from(words: &str) -> Result<SensedAt, String> {
    let key = words.trim().to_lowercase().replace([' ', '-'], "_");
    let known = SensedAt::ALL.map(SensedAt::key);
    SensedAt::from_key(&key).ok_or_else(|| {
        let meant = suggestion(&key, &known);
        format!("the voltage is sensed at {}, not at \"{}\"{meant}", known.join(", "), words.trim())
    })
}

/// A rest of more than ten years is a typing mistake.
fn hours_at_rest(hours: f64) -> Result<f64, String> {
    match (0.0..=87_600.0).contains(&hours) {
        true => Ok(hours),
        false => Err(format!(
            "{hours} h is not a plausible rest; write the hours since the cell was last charged or used"
        )),
    }
}

fn capacity_again(capacity_ah: f64) -> Result<f64, String> {
    match (0.02..=50.0).contains(&capacity_ah) {
        true => Ok(capacity_ah),
        false => Err(format!("{capacity_ah} Ah is no cell's rated capacity; write it in Ah (mAh / 1000)")),
    }
}

fn answer_from(words: &str) -> Option<Answer> {
    match words.trim().to_lowercase().replace([' ', '-'], "_").as_str() {
        "yes" | "y" | "true" => Some(Answer::Yes),
        "no" | "n" | "false" => Some(Answer::No),
        "not_observed" | "?" => Some(Answer::NotObserved),
        _ => None,
    }
}

fn unknown_sign(key: &str) -> String {
    let known = Sign::ALL.map(Sign::key);
    let meant = suggestion(key, &known);
    format!("\"{key}\" is not a sign of the checklist{meant}; the signs are {}", known.join(", "))
}

fn unknown_answer(given: impl std::fmt::Display) -> String {
    format!("the answer {given} is not understood; write yes, no or not_observed")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_with_words_truth_values_and_thickness() {
        let text = "assessor = \"bench 2\"\nthickness_mm = [6, 6.2]\n[signs]\nswollen = \"No\"\nleaked = true\n\
                    recalled = \"not observed\"\n";
        let read = Observations::from_toml(text, "look.toml").unwrap();
        assert_eq!(read.answer(Sign::Swollen), Answer::No);
        assert_eq!(read.answer(Sign::Leaked), Answer::Yes);
        assert_eq!(read.answer(Sign::Recalled), Answer::NotObserved);
        assert_eq!(read.thickness_mm, [6.0, 6.2]);
        assert_eq!(read.assessor.as_deref(), Some("bench 2"));
    }

    #[test]
    fn a_place_of_the_sense_leads_is_read_and_nothing_said_stays_nothing() {
        for place in SensedAt::ALL {
            let read = Observations::from_toml(&format!("sensed_at = \"{}\"\n", place.key()), "look.toml");
            assert_eq!(read.unwrap().sensed_at, Some(place));
            assert_eq!(Observations::parse_sensed_at(&place.key().replace('_', " ")), Ok(place));
        }
        assert!(Observations::parse_sensed_at("").is_err());
        let nothing = serde_json::to_value(Observations::default()).unwrap();
        assert_eq!(nothing.get("sensed_at"), None);
        let said = Observations { sensed_at: Some(SensedAt::Connector), ..Observations::default() };
        assert_eq!(said.clone().overlaid(Observations::default()), said);
        assert_eq!(Observations::default().overlaid(said.clone()), said);
    }

    #[test]
    fn an_empty_file_means_that_nobody_looked() {
        assert_eq!(Observations::from_toml("", "look.toml").unwrap(), Observations::default());
    }

    #[test]
    fn mistakes_are_told_with_place_and_remedy() {
        let cases = [
            ("[signs]\nswolen = \"no\"\n", "look.toml:2:1", "did you mean `swollen`"),
            ("[signs]\nswollen = \"perhaps\"\n", "look.toml:2:11", "yes, no or not_observed"),
            ("[signs]\nswollen = 1\n", "look.toml:2:11", "yes, no or not_observed"),
            ("thickness_mm = [6.0, -1.0]\n", "look.toml:1:16", "measure again"),
            ("thickness_mm = [nan]\n", "look.toml:1:16", "measure again"),
            ("thickness_mm = \"6\"\n", "look.toml:1:16", "numbers in mm"),
            ("swollen = \"no\"\n", "look.toml:1:1", "unknown key"),
            ("wires = 3\n", "look.toml:1:9", "2 wires, or with 4"),
            ("sensed_at = \"conector\"\n", "look.toml:1:13", "did you mean \"connector\""),
            ("adapter = 0\n", "look.toml:1:11", "an adapter's number is 1 or more"),
            ("[signs]\nswollen = \n", "look.toml:2:11", ""),
        ];
        for (text, place, words) in cases {
            let told = Observations::from_toml(text, "look.toml").unwrap_err().to_string();
            assert!(told.starts_with(place) && told.contains(words), "{text:?} gave {told}");
        }
    }

    #[test]
    fn an_option_names_a_sign_and_an_answer() {
        assert_eq!(Observations::parse_option("swollen=yes"), Ok((Sign::Swollen, Answer::Yes)));
        assert_eq!(
            Observations::parse_option("casing_breached = no"),
            Ok((Sign::CasingBreached, Answer::No))
        );
        for wrong in ["swollen", "swollen=", "swolen=yes", "swollen=maybe", "=yes"] {
            assert!(Observations::parse_option(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_decimal_comma_is_not_taken_for_two_readings() {
        for clear in ["3.31,3.30", "3.31, 3.30", "3.31;3.30", "3.31 3.30", " 3.31 ; 3.30 "] {
            assert_eq!(Observations::parse_thickness(clear), Ok(vec![3.31, 3.30]), "{clear}");
        }
        assert_eq!(Observations::parse_thickness("3, 3"), Ok(vec![3.0, 3.0]));
        for doubtful in ["3,3", "3,31;3,30", "3.3,3", "3,31 3.3", "6,6,6"] {
            let told = Observations::parse_thickness(doubtful).unwrap_err().to_string();
            assert!(told.contains("one number or two"), "{doubtful}: {told}");
        }
        let file = |list: &str| Observations::from_toml(&format!("thickness_mm = {list}\n"), "look.toml");
        for doubtful in ["[3.3, 3,35]", "[3,3]", "[[3,31], 3.3]", "[3.3, # 3.2\n 3,3]"] {
            let told = file(doubtful).unwrap_err().to_string();
            assert!(
                told.starts_with("look.toml:1:16") && told.contains("one number or two"),
                "{doubtful}: {told}"
            );
        }
        for clear in ["[3, 3]", "[3.3,3.2]", "[6, 6.2]", "[ # middle 3,3\n 3.3 ]", "[[3.31, 3.30], 3.2]"] {
            assert!(file(clear).is_ok(), "{clear}: {:?}", file(clear));
        }
    }

    #[test]
    fn readings_that_are_not_of_one_point_are_refused() {
        assert!(Observations::parse_thickness("3.3; 35").unwrap_err().to_string().contains("one point"));
        assert!(Observations::parse_thickness("3.3 3.6").is_err());
        assert!(Observations::parse_thickness("3.3 3.45 3.38").is_ok());
        // Thin cells scatter by a larger share, thick ones by more millimetres.
        assert!(Observations::parse_thickness("1.0 1.15").is_ok());
        assert!(Observations::parse_thickness("20 20.9").is_ok());
        assert!(Observations::from_toml("thickness_mm = [[3.3, 3.6], 3.3]", "look.toml").is_err());
        assert!(Observations::parse_thickness(" ; ").is_err());
    }

    #[test]
    fn a_thickness_that_cannot_be_is_refused() {
        assert_eq!(Observations::parse_thickness("6.1"), Ok(vec![6.1]));
        for wrong in [0.0, -6.0, f64::NAN, f64::INFINITY, 610.0] {
            assert!(Observations::parse_thickness(&wrong.to_string()).is_err(), "{wrong}");
        }
    }
}
