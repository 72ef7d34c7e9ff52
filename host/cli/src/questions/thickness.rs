//! The thickness of a cell, point by point, as people type it; or whether it lies flat, where there is nothing to compare with.

use super::{Questions, Reply};
use crate::error::Error;
use crate::io::Io;
use crate::spoken::spoken;
use celltriage_measure::nameplate::{Form, Nameplate};
use celltriage_measure::observation::{Answer, HOW_TO_MEASURE_THICKNESS, HOW_TO_TRY_FLATNESS, Observations};

/// The points of a cell's face at which its thickness is taken.
const POINTS: [&str; 3] = ["the middle", "one corner", "another corner"];
/// What an answer costs that is not given, where the policy asks for it.
const COST: &str = "  not measured: without it the cell can be rejected, and not be graded reuse";
/// The same where the policy does not ask for it.
const SMALL_COST: &str = "  not measured: swelling is then judged by eye alone";

impl Questions<'_> {
    /// Asks for the thickness, point by point, where the label states one, none was given and somebody is there to answer.
    /// A typo is told and the point asked again; how to measure is said once (`told`). Returns whether it is done; else the person
    /// wants to go back to the signs.
    ///
    /// # Errors
    /// As [`Questions::reacts`].
    pub(super) fn thickness(
        &self,
        looks: &mut Observations,
        nameplate: &Nameplate,
        told: bool,
        io: &mut Io<'_>,
    ) -> Result<bool, Error> {
        if self.is_settled(looks) || !looks.thickness_mm.is_empty() {
            return Ok(true);
        }
        let Some(nominal) = nameplate.nominal_thickness_mm else {
            return self.flatness(looks, nameplate, told, io);
        };
        if !told {
            io.note(HOW_TO_MEASURE_THICKNESS);
        }
        let mut points: Vec<Vec<f64>> = Vec::new();
        while let Some(point) = POINTS.get(points.len()) {
            let question = format!(
                "{} of {}  Thickness at {point} in mm (new: {nominal}) [Enter not measured] ",
                points.len() + 1,
                POINTS.len()
            );
            let line = self.ask(&question, io)?;
            match Reply::of(&line) {
                Reply::Back if points.is_empty() => return Ok(false),
                Reply::Back => drop(points.pop()),
                Reply::Empty => {
                    if points.is_empty() {
                        io.note(self.cost());
                    }
                    return Ok(true);
                }
                Reply::Text(text) => match Observations::thickness_as_typed(&text) {
                    Ok(readings) => {
                        if text.contains(',') {
                            let taken: Vec<String> = readings.iter().map(f64::to_string).collect();
                            io.note(&format!("  taken as {} mm", taken.join(" and ")));
                        }
                        points.push(readings);
                    }
                    Err(error) => io.note(&format!("  {error}")),
                },
            }
            looks.thickness_mm.clear();
            looks.thickness_readings_mm.clear();
            points.iter().for_each(|readings| looks.add_thickness(readings.clone()));
            self.keep(looks, io);
        }
        Ok(true)
    }

    const fn cost(&self) -> &'static str {
        if self.thickness_decides { COST } else { SMALL_COST }
    }

    /// Asks whether a cell lies flat, where no thickness is known that it could be held against.
    fn flatness(
        &self,
        looks: &mut Observations,
        nameplate: &Nameplate,
        told: bool,
        io: &mut Io<'_>,
    ) -> Result<bool, Error> {
        let is_round = nameplate.form == Form::Cylindrical;
        if is_round || looks.lies_flat.is_some() {
            return Ok(true);
        }
        if !told {
            io.note(HOW_TO_TRY_FLATNESS);
        }
        while looks.lies_flat.is_none() {
            let line = self.ask("Does it lie flat on both faces? [y/n, Enter not tried] ", io)?;
            match (Reply::of(&line), spoken(&line)) {
                (Reply::Back, _) => return Ok(false),
                (_, Some(Answer::NotObserved)) => {
                    io.note(self.cost());
                    return Ok(true);
                }
                (_, Some(answer)) => looks.lies_flat = Some(answer == Answer::Yes),
                (_, None) => io.note("  y if it lies flat on both faces, n if it rocks or bulges"),
            }
        }
        self.keep(looks, io);
        Ok(true)
    }
}
