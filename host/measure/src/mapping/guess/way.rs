//! Which way the current flows: by its own sign, by a column of words, and by what the voltage does.

use super::meaning::Found;
use super::table::Column;
use crate::bdf::{BdfError, CurrentSign, implied_sign};
use crate::mapping::MappingError;
use crate::mapping::parts::{Mapping, Mode, Positive};
use crate::trace::Trace;

/// Sets the sign of a mapping that takes a positive current for charging, and says what is in doubt; returns what it then gives.
pub(super) fn find(
    mapping: &mut Mapping,
    found: &Found,
    columns: &[Column],
    lines: &[&str],
    name: &str,
    doubts: &mut Vec<String>,
) -> Result<Trace, MappingError> {
    let column = |place: usize| columns.iter().find(|column| column.place == place);
    let signed = column(found.current).is_some_and(|column| column.numbers.iter().any(|value| *value < 0.0));
    let modes = found.modes.iter().filter_map(|place| column(*place));
    let mode = modes.filter_map(|column| Some((column, sorted(&column.words()?)?))).next();
    if let (false, Some((column, (charge, discharge)))) = (signed, mode) {
        mapping.current.positive = Positive::AsModeSays;
        mapping.current.mode = Some(Mode { column: column.named(columns), charge, discharge });
    }
    let given = mapping.read_lines(lines, name);
    let sign = match &given {
        Ok(trace) => implied_sign(trace),
        // The reader has the same look, and refuses what it finds turned round.
        Err(MappingError::Trace(BdfError::Sign { evidence, .. })) => CurrentSign::Wrong(evidence.clone()),
        Err(_) => CurrentSign::Untold,
    };
    match (sign, mapping.current.positive) {
        (CurrentSign::Right, _) => {}
        (CurrentSign::Wrong(_), Positive::AsModeSays) => {
            doubts.push(
                "the voltage goes the other way than the words of the mode say: look at both lists"
                    .to_owned(),
            );
        }
        (CurrentSign::Wrong(_), _) => {
            mapping.current.positive = Positive::Discharges;
            return mapping.read_lines(lines, name);
        }
        (CurrentSign::Mixed(what), _) => {
            doubts.push(format!("the sign of the current cannot be told: {what}"));
        }
        (CurrentSign::Untold, Positive::AsModeSays) => {}
        (CurrentSign::Untold, _) => {
            doubts.push(
                "the sign of the current cannot be told from the voltage: is a positive one charging?"
                    .to_owned(),
            );
        }
    }
    given
}

/// Sorts the words of a column into those that charge and those that discharge; `None` where no word discharges.
fn sorted(words: &[String]) -> Option<(Vec<String>, Vec<String>)> {
    let discharges = |word: &str| {
        ["dis", "dchg", "dch", "entlad", "decharge", "décharge", "descarga", "scarica"]
            .iter()
            .any(|part| word.contains(part))
            || word == "d"
    };
    let charges = |word: &str| {
        ["chg", "cha", "lad", "carga", "carica"].iter().any(|part| word.contains(part)) || word == "c"
    };
    let (mut charge, mut discharge) = (Vec::new(), Vec::new());
    for word in words {
        let lower = word.to_lowercase();
        if discharges(&lower) {
            discharge.push(word.clone());
        } else if charges(&lower) {
            charge.push(word.clone());
        }
    }
    (!discharge.is_empty()).then_some((charge, discharge))
}
