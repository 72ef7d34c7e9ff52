//! Reads a nameplate from a TOML file, from options of the command line, or from both; options win.
//!
//! Takes text; gives a checked [`Nameplate`] or all problems at once, each with its line. Rated capacity and charge
//! limit must be told: they decide what "full" and "like new" mean, so they are never guessed.

mod draft;

use crate::nameplate::{Nameplate, ThicknessFrom};
use draft::Draft;
use std::fmt;

/// Keys of the file that this tool reads.
pub const KEYS: [&str; 10] = [
    "model",
    "rated_capacity_ah",
    "charge_limit_v",
    "end_of_discharge_v",
    "nominal_v",
    "nominal_thickness_mm",
    "thickness_from",
    "chemistry",
    "form",
    "mass_g",
];

/// Figures given as options; what is there wins over the file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overrides {
    /// The shop's name for the type of cell.
    pub model: Option<String>,
    /// Rated capacity in Ah.
    pub rated_capacity_ah: Option<f64>,
    /// Charge-limit voltage in V.
    pub charge_limit_v: Option<f64>,
    /// End-of-discharge voltage in V.
    pub end_of_discharge_v: Option<f64>,
    /// Nominal voltage in V.
    pub nominal_v: Option<f64>,
    /// Thickness that the label states in mm.
    pub nominal_thickness_mm: Option<f64>,
    /// Where that figure comes from.
    pub thickness_from: Option<String>,
    /// Chemistry as written on the label.
    pub chemistry: Option<String>,
    /// Build as written on the label.
    pub form: Option<String>,
    /// Mass in g.
    pub mass_g: Option<f64>,
}

/// One thing that is wrong with a nameplate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Line of the file, from 1; nothing where it is about something absent or an option.
    pub line: Option<usize>,
    /// The key it is about; empty where it is about the whole file.
    pub key: String,
    /// What is wrong and what to do.
    pub text: String,
}

/// All that is wrong with a nameplate.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct NameplateError {
    /// The file, or what stands for it.
    pub name: String,
    /// At least one problem.
    pub problems: Vec<Problem>,
}

impl fmt::Display for NameplateError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            let line = problem.line.map_or_else(String::new, |line| format!(" line {line}:"));
            let key = if problem.key.is_empty() { String::new() } else { format!(" {}:", problem.key) };
            let end = if index == 0 { "" } else { "\n" };
            write!(out, "{end}{}:{line}{key} {}", self.name, problem.text)?;
        }
        Ok(())
    }
}

impl Nameplate {
    /// Reads a nameplate from the text of a file; `name` is what messages call it.
    ///
    /// # Errors
    /// All problems at once.
    pub fn from_toml(text: &str, name: &str) -> Result<Self, NameplateError> {
        Self::read(Some((text, name)), &Overrides::default())
    }

    /// Reads a nameplate from a file's text and name, if there is one, and from options.
    ///
    /// # Errors
    /// All problems at once.
    pub fn read(file: Option<(&str, &str)>, options: &Overrides) -> Result<Self, NameplateError> {
        let name = file.map_or("nameplate options", |(_, name)| name).to_owned();
        let mut draft = Draft::default();
        if let Some((text, _)) = file {
            draft.take_file(text);
        }
        draft.take_options(options);
        draft.finish().map_err(|problems| NameplateError { name, problems })
    }

    /// Writes the nameplate as a file that [`Nameplate::from_toml`] reads.
    pub fn to_toml(&self) -> String {
        let mut lines = vec![
            format!("rated_capacity_ah = {:?}", self.rated_capacity_ah),
            format!("charge_limit_v = {:?}", self.charge_limit_v),
            format!("end_of_discharge_v = {:?}", self.end_of_discharge_v),
        ];
        let numbers = [
            ("nominal_v", self.nominal_v),
            ("nominal_thickness_mm", self.nominal_thickness_mm),
            ("mass_g", self.mass_g),
        ];
        lines.extend(
            numbers.iter().filter_map(|(key, value)| value.map(|value| format!("{key} = {value:?}"))),
        );
        if self.thickness_from != ThicknessFrom::Label {
            lines.push(format!("thickness_from = \"{}\"", self.thickness_from.key()));
        }
        if let Some(model) = &self.model {
            lines.insert(0, format!("model = {}", toml::Value::from(model.as_str())));
        }
        lines.push(format!("chemistry = \"{}\"", self.chemistry.key()));
        lines.push(format!("form = \"{}\"\n", self.form.key()));
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::draft::distance;
    use super::*;
    use crate::nameplate::Chemistry;

    const SOUND: &str = "# a label\nrated_capacity_ah = 2.28\ncharge_limit_v = 4.2\nend_of_discharge_v = 3\n\
                         nominal_v = 3.7\nchemistry = \"lco\"\nform = \"pouch\"\n";

    fn problems(text: &str) -> Vec<Problem> {
        Nameplate::from_toml(text, "cell.toml").unwrap_err().problems
    }

    #[test]
    fn a_sound_file_is_read_with_integers_as_numbers() {
        let nameplate = Nameplate::from_toml(SOUND, "cell.toml").unwrap();
        assert_eq!(nameplate.end_of_discharge_v, 3.0);
        assert_eq!(nameplate.chemistry, Chemistry::Lco);
        assert_eq!(nameplate.warnings, Vec::<String>::new());
    }

    #[test]
    fn what_is_written_is_read_back() {
        let text = format!("{SOUND}model = \"PT-10 \\\"school\\\"\"\nthickness_from = \"size_code\"\n");
        let nameplate = Nameplate::from_toml(&text, "cell.toml").unwrap();
        assert_eq!(nameplate.model.as_deref(), Some("PT-10 \"school\""));
        assert_eq!(Nameplate::from_toml(&nameplate.to_toml(), "copy").unwrap(), nameplate);
    }

    #[test]
    fn the_charge_limit_is_never_guessed() {
        let problems = problems("rated_capacity_ah = 3.0\n");
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].key, "charge_limit_v");
        assert!(problems[0].text.contains("never guessed"));
    }

    #[test]
    fn all_problems_come_at_once_with_their_lines() {
        let error =
            Nameplate::from_toml("charge_limit_v = 42\n\nmass_g = \"heavy\"\nnominal_v = 9.0\n", "cell.toml");
        let error = error.unwrap_err();
        let lines: Vec<_> =
            error.problems.iter().map(|problem| (problem.key.as_str(), problem.line)).collect();
        for expected in [
            ("charge_limit_v", Some(1)),
            ("mass_g", Some(3)),
            ("nominal_v", Some(4)),
            ("rated_capacity_ah", None),
        ] {
            assert!(lines.contains(&expected), "{expected:?} in {lines:?}");
        }
        assert!(error.to_string().contains("cell.toml: line 3: mass_g:"), "{error}");
    }

    #[test]
    fn a_slip_of_the_pen_in_a_key_is_an_error_that_names_the_key() {
        let problems = problems("rated_capacity_ah = 3.0\ncharge_limt_v = 4.35\n");
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert_eq!(problems[0].line, Some(2));
        assert!(problems[0].text.contains("`charge_limit_v`"));
    }

    #[test]
    fn an_unknown_key_is_a_warning() {
        let text = format!("{SOUND}colour = \"silver\"\n");
        let warnings = Nameplate::from_toml(&text, "cell.toml").unwrap().warnings;
        assert_eq!(warnings.len(), 1);
        assert!(warnings[0].contains("`colour`") && warnings[0].contains("line 8"), "{warnings:?}");
    }

    #[test]
    fn a_word_that_is_not_known_is_refused_with_those_that_are() {
        let cases = [
            ("chemistry = \"unobtainium\"", "lco, nmc"),
            ("thickness_from = \"inch\"", "drawing, size_code"),
            ("form = \"square\"", "pouch, prismatic"),
        ];
        for (line, known) in cases {
            let text = format!("rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\n{line}\n");
            let problems = problems(&text);
            assert_eq!((problems.len(), problems[0].line), (1, Some(3)), "{problems:?}");
            assert!(problems[0].text.contains(known), "{problems:?}");
        }
        let options = Overrides { chemistry: Some("unobtainium".to_owned()), ..Overrides::default() };
        let error = Nameplate::read(Some((&SOUND.replace("lco", "nmc"), "cell.toml")), &options).unwrap_err();
        assert_eq!((error.problems.len(), error.problems[0].line), (1, None), "an option stands on no line");
    }

    #[test]
    fn a_missing_end_of_discharge_is_taken_as_usual_with_a_warning() {
        let nameplate =
            Nameplate::from_toml("rated_capacity_ah = 3.0\ncharge_limit_v = 4.35", "cell.toml").unwrap();
        assert_eq!((nameplate.end_of_discharge_v, nameplate.warnings.len()), (3.0, 1));
        let lfp = "rated_capacity_ah = 3.0\ncharge_limit_v = 3.65\nchemistry = 'LiFePO4'";
        assert_eq!(Nameplate::from_toml(lfp, "cell.toml").unwrap().end_of_discharge_v, 2.5);
    }

    #[test]
    fn an_option_wins_over_the_file_and_says_so() {
        let options = Overrides { charge_limit_v: Some(4.35), ..Overrides::default() };
        let nameplate = Nameplate::read(Some((SOUND, "cell.toml")), &options).unwrap();
        assert_eq!(nameplate.charge_limit_v, 4.35);
        assert!(nameplate.warnings[0].contains("4.35"), "{:?}", nameplate.warnings);
    }

    #[test]
    fn options_alone_are_enough() {
        let options =
            Overrides { charge_limit_v: Some(4.35), rated_capacity_ah: Some(3.0), ..Overrides::default() };
        assert!(Nameplate::read(None, &options).is_ok());
        let error = Nameplate::read(None, &Overrides::default()).unwrap_err();
        assert_eq!(error.problems.len(), 2);
    }

    #[test]
    fn text_that_is_no_toml_tells_its_line() {
        let problems = problems("rated_capacity_ah = 3.0\ncharge_limit_v 4.35\n");
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert_eq!(problems[0].line, Some(2));
    }

    #[test]
    fn not_a_number_is_refused() {
        assert!(problems("rated_capacity_ah = nan\ncharge_limit_v = inf").len() == 2);
    }

    #[test]
    fn distances_are_those_of_levenshtein() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("same", "same"), 0);
    }
}
