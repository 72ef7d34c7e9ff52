//! The label of a model that is not known yet, field by field as it is printed; what must not be guessed cannot be left out.

use super::ask;
use super::label_read::{LabelRead, said};
use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;
use celltriage_assessment::case::label_file;
use celltriage_measure::nameplate::{Chemistry, Form, Nameplate};
use celltriage_measure::nameplate_file::Overrides;
use celltriage_workshop::model_library::keep_label;
use std::path::Path;

/// One field of a label.
struct Field {
    /// Its key in a label file, by which faults name it.
    key: &'static str,
    question: &'static str,
    /// What is told where it is left out and must not be; `None` where a label may lack it.
    needed: Option<&'static str>,
    set: fn(&mut Overrides, Option<&str>) -> Result<(), String>,
}

/// The fields in the order in which they are asked: the chemistry before the charge limit, whose bounds hang on it.
const FIELDS: [Field; 9] = [
    Field {
        key: "model",
        question: "Your own name for this type of cell",
        needed: Some("cells of one model are compared with each other: it needs a name"),
        set: |label, text| {
            label.model = text.map(str::to_owned);
            Ok(())
        },
    },
    Field {
        key: "rated_capacity_ah",
        question: "Rated capacity in Ah or mAh",
        needed: Some("read it off the label: it is never guessed"),
        set: |label, text| {
            label.rated_capacity_ah = figure(text, &[("mah", 1e-3), ("ah", 1.0)])?;
            Ok(())
        },
    },
    Field {
        key: "chemistry",
        question: "Chemistry (lco, nmc, nca, lmo, lfp) [Enter not told]",
        needed: None,
        set: |label, text| {
            label.chemistry = word(text, Chemistry::WORDS, |text| Chemistry::from_label(text).is_some())?;
            Ok(())
        },
    },
    Field {
        key: "charge_limit_v",
        question: "Charge limit in V (\"charge limit\", \"max. charge voltage\")",
        needed: Some("it is never guessed: a cell charged too high can burn (Ctrl-C to look it up)"),
        set: |label, text| {
            label.charge_limit_v = figure(text, VOLTS)?;
            Ok(())
        },
    },
    Field {
        key: "end_of_discharge_v",
        question: "End of discharge in V [Enter not on the label]",
        needed: None,
        set: |label, text| {
            label.end_of_discharge_v = figure(text, VOLTS)?;
            Ok(())
        },
    },
    Field {
        key: "nominal_v",
        question: "Nominal voltage in V [Enter not on the label]",
        needed: None,
        set: |label, text| {
            label.nominal_v = figure(text, VOLTS)?;
            Ok(())
        },
    },
    Field {
        key: "form",
        question: "Build (pouch, prismatic, cylindrical) [Enter not known]",
        needed: None,
        set: |label, text| {
            label.form = word(text, Form::WORDS, |text| Form::from_label(text).is_some())?;
            Ok(())
        },
    },
    Field {
        key: "nominal_thickness_mm",
        question: "Thickness of a new one in mm, by its label [Enter not known]",
        needed: None,
        set: |label, text| {
            label.nominal_thickness_mm = figure(text, &[("mm", 1.0)])?;
            Ok(())
        },
    },
    Field {
        key: "mass_g",
        question: "Mass in g [Enter not known]",
        needed: None,
        set: |label, text| {
            label.mass_g = figure(text, &[("kg", 1e3), ("g", 1.0)])?;
            Ok(())
        },
    },
];

const VOLTS: &[(&str, f64)] = &[("mv", 1e-3), ("v", 1.0)];

/// Asks for a label field by field, and keeps it among the shop's label files; `None` where the person goes back beyond the first.
///
/// # Errors
/// The input has ended.
pub(super) fn ask_label(models: Option<&Path>, io: &mut Io<'_>) -> Result<Option<LabelRead>, Error> {
    let mut label = Overrides::default();
    let mut at = 0;
    loop {
        let Some(field) = FIELDS.get(at) else {
            let Some(nameplate) = confirmed(&label, io)? else {
                at -= 1;
                continue;
            };
            keep(&nameplate, models, io);
            let files = vec![label_file(nameplate.to_toml())];
            return Ok(Some((nameplate, files)));
        };
        match ask(&format!("{} of {}  {}: ", at + 1, FIELDS.len(), field.question), io)? {
            Reply::Back if at == 0 => return Ok(None),
            Reply::Back => at -= 1,
            Reply::Empty => match field.needed {
                Some(why) => io.note(&format!("  {why}")),
                None => {
                    let _nothing_can_be_wrong_with_none = (field.set)(&mut label, None);
                    at += 1;
                }
            },
            Reply::Text(text) => {
                match (field.set)(&mut label, Some(&text)).and_then(|()| fits(field.key, &label)) {
                    Ok(()) => at += 1,
                    Err(why) => io.note(&format!("  {why}")),
                }
            }
        }
    }
}

/// Says what is wrong with one field of a label of which others may be missing.
fn fits(key: &str, label: &Overrides) -> Result<(), String> {
    let Err(faults) = Nameplate::read(None, label) else { return Ok(()) };
    let of_it = faults.0.iter().find_map(|fault| fault.what.strip_prefix(key)?.strip_prefix(": "));
    of_it.map_or(Ok(()), |why| Err(why.to_owned()))
}

/// Says the label as a whole, and asks whether it is so.
fn confirmed(label: &Overrides, io: &mut Io<'_>) -> Result<Option<Nameplate>, Error> {
    let nameplate = match Nameplate::read(None, label) {
        Ok(nameplate) => nameplate,
        Err(faults) => {
            io.note(&format!("  {faults}"));
            return Ok(None);
        }
    };
    let question = format!(
        "{}: {}, discharged to {} V. Is that what the label says? [Enter yes, b back] ",
        nameplate.model.as_deref().unwrap_or_default(),
        said(&nameplate),
        nameplate.end_of_discharge_v
    );
    Ok(ask(&question, io)?.takes_it().then_some(nameplate))
}

/// Keeps it for the next cell; where that fails, the book still has it once this cell is decided.
fn keep(label: &Nameplate, models: Option<&Path>, io: &mut Io<'_>) {
    let Some(folder) = models.filter(|path| !path.is_file()) else {
        io.note("note: the label is kept in the book only: the setting `models` names no folder");
        return;
    };
    match keep_label(folder, label, io.today()) {
        Ok(path) => io.note(&format!("  kept as {}", path.display())),
        Err(error) => {
            io.note(&format!("warning: the label is not kept in {}: {error}", folder.display()));
        }
    }
}

/// Reads a figure with its unit, where one is written.
fn figure(text: Option<&str>, units: &[(&str, f64)]) -> Result<Option<f64>, String> {
    let Some(text) = text else { return Ok(None) };
    let plain = text.to_lowercase().replace(',', ".");
    let found = units.iter().find_map(|(unit, scale)| Some((plain.strip_suffix(unit)?, *scale)));
    let (number, scale) = found.unwrap_or((plain.as_str(), 1.0));
    let read: Result<f64, _> = number.trim().parse();
    // One division for thousandths: 3350 mAh are 3.35 Ah and no digit more.
    let scaled = read.map(|figure| if scale < 1.0 { figure / (1.0 / scale).round() } else { figure * scale });
    scaled.map(Some).map_err(|_| format!("`{text}` is no figure: write it as on the label, such as 3.35"))
}

fn word(text: Option<&str>, known: &str, is_known: impl Fn(&str) -> bool) -> Result<Option<String>, String> {
    match text {
        Some(text) if is_known(text) => Ok(Some(text.to_owned())),
        Some(text) => Err(format!("`{text}` is not known here: write {known}")),
        None => Ok(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_with_their_units_and_without() {
        let capacity: &[(&str, f64)] = &[("mah", 1e-3), ("ah", 1.0)];
        for (text, want) in
            [("3.35", 3.35), ("3,35 Ah", 3.35), ("3350mAh", 3.35), ("3350 MAH", 3.35), (" 3 ", 3.0)]
        {
            assert_eq!(figure(Some(text), capacity), Ok(Some(want)), "{text}");
        }
        assert_eq!(figure(Some("4,35V"), VOLTS), Ok(Some(4.35)));
        assert_eq!(figure(None, VOLTS), Ok(None));
        assert!(figure(Some("about 4"), VOLTS).is_err() && figure(Some(""), VOLTS).is_err());
    }

    #[test]
    fn every_question_fits_a_line_and_each_key_is_one_of_a_label() {
        let keys = celltriage_measure::nameplate_file::KEYS;
        for (number, field) in FIELDS.iter().enumerate() {
            let question = format!("{} of {}  {}: ", number + 1, FIELDS.len(), field.question);
            assert!(question.len() <= 80, "{question}");
            assert!(keys.contains(&field.key), "{}", field.key);
        }
    }

    #[test]
    fn a_charge_limit_is_held_against_the_chemistry_that_was_said() {
        let mut label = Overrides {
            chemistry: Some("lfp".to_owned()),
            charge_limit_v: Some(4.2),
            ..Overrides::default()
        };
        assert!(fits("charge_limit_v", &label).is_err());
        label.charge_limit_v = Some(3.65);
        assert_eq!(fits("charge_limit_v", &label), Ok(()));
        label.rated_capacity_ah = Some(3000.0);
        assert!(fits("rated_capacity_ah", &label).is_err_and(|why| why.contains("check figure and unit")));
    }
}
