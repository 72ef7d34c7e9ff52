//! Reads a nameplate from a TOML file, from options of the command line, or from both; options win.
//!
//! Input: text; output: a checked [`Nameplate`] or all faults at once, each with its line. Rated capacity and charge
//! limit must be given: they decide what "full" and "like new" mean, so they are never guessed.

mod draft;

use crate::nameplate::{Nameplate, ThicknessFrom};
use celltriage_written::{Faults, Reading};
use draft::Draft;

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

impl Nameplate {
    /// Reads a nameplate from the text of a file; `name` is what messages call it.
    ///
    /// # Errors
    /// All faults at once.
    pub fn from_toml(text: &str, name: &str) -> Result<Self, Faults> {
        Self::read(Some((text, name)), &Overrides::default())
    }

    /// Reads a nameplate from a file's text and name, if there is one, and from options.
    ///
    /// # Errors
    /// All faults at once.
    pub fn read(file: Option<(&str, &str)>, options: &Overrides) -> Result<Self, Faults> {
        let (text, name) = file.unwrap_or(("", "nameplate options"));
        let (mut reading, fields) = Reading::begin(name, text);
        if reading.has_faults() {
            reading.add_whole("write lines like `charge_limit_v = 4.35`");
            return reading.end(None);
        }
        let mut draft = Draft::default();
        draft.take_file(fields, &mut reading);
        draft.take_options(options);
        let nameplate = draft.finish(&mut reading);
        reading.end(Some(nameplate))
    }

    /// Writes the nameplate as a file that [`Nameplate::from_toml`] reads.
    pub fn to_toml(&self) -> String {
        let mut lines = vec![
            format!("rated_capacity_ah = {:?}", self.rated_capacity_ah),
            format!("charge_limit_v = {:?}", self.charge_limit_v),
        ];
        if !self.end_of_discharge_assumed {
            lines.push(format!("end_of_discharge_v = {:?}", self.end_of_discharge_v));
        }
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
    use super::*;
    use crate::nameplate::Chemistry;
    use celltriage_written::Fault;

    const SOUND: &str = "# a label\nrated_capacity_ah = 2.28\ncharge_limit_v = 4.2\nend_of_discharge_v = 3\n\
                         nominal_v = 3.7\nchemistry = \"lco\"\nform = \"pouch\"\n";

    fn faults(text: &str) -> Vec<Fault> {
        Nameplate::from_toml(text, "cell.toml").unwrap_err().0
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
        let faults = faults("rated_capacity_ah = 3.0\n");
        assert_eq!(faults.len(), 1);
        let told = faults[0].to_string();
        assert!(told.starts_with("cell.toml: charge_limit_v") && told.contains("never guessed"), "{told}");
    }

    #[test]
    fn all_faults_come_at_once_with_their_lines() {
        let error =
            Nameplate::from_toml("charge_limit_v = 42\n\nmass_g = \"heavy\"\nnominal_v = 9.0\n", "cell.toml");
        let faults = error.unwrap_err().0;
        for (key, line) in
            [("charge_limit_v", 1), ("a number", 3), ("nominal_v", 4), ("rated_capacity_ah", 0)]
        {
            let found = faults.iter().any(|fault| fault.place.line == line && fault.what.contains(key));
            assert!(found, "{key} in line {line}: {faults:?}");
        }
    }

    #[test]
    fn a_slip_of_the_pen_in_a_key_is_an_error_that_names_the_key() {
        let faults = faults("rated_capacity_ah = 3.0\ncharge_limt_v = 4.35\n");
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!(faults[0].place.line, 2);
        assert!(faults[0].what.contains("`charge_limit_v`"));
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
            let faults = faults(&text);
            assert_eq!((faults.len(), faults[0].place.line), (1, 3), "{faults:?}");
            assert!(faults[0].what.contains(known), "{faults:?}");
        }
        let options = Overrides { chemistry: Some("unobtainium".to_owned()), ..Overrides::default() };
        let error = Nameplate::read(Some((&SOUND.replace("lco", "nmc"), "cell.toml")), &options).unwrap_err();
        assert_eq!((error.0.len(), error.0[0].place.line), (1, 0), "an option stands on no line");
    }

    #[test]
    fn a_missing_end_of_discharge_is_taken_as_usual_with_a_warning() {
        let nameplate =
            Nameplate::from_toml("rated_capacity_ah = 3.0\ncharge_limit_v = 4.35", "cell.toml").unwrap();
        assert_eq!((nameplate.end_of_discharge_v, nameplate.warnings.len()), (3.0, 1));
        assert!(nameplate.end_of_discharge_assumed);
        // Written and read again, it is still no figure of the label.
        assert_eq!(Nameplate::from_toml(&nameplate.to_toml(), "copy").unwrap(), nameplate);
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
        assert_eq!(error.0.len(), 2);
    }

    #[test]
    fn text_that_is_no_toml_tells_its_line_and_how_to_write_one() {
        let error = Nameplate::from_toml("rated_capacity_ah = 3.0\ncharge_limit_v 4.35\n", "cell.toml");
        let told = error.unwrap_err().to_string();
        assert!(told.contains("cell.toml:2:") && told.contains("`charge_limit_v = 4.35`"), "{told}");
    }

    #[test]
    fn not_a_number_is_refused() {
        assert!(faults("rated_capacity_ah = nan\ncharge_limit_v = inf").len() == 2);
    }
}
