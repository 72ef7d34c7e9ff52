//! Readings of a thickness as people write them: numbers, lists in a list, decimal commas; in mm, and whether they can be.

use toml::Value;

/// Thinnest and thickest reading of a cell that is believed, in mm: from a film cell to a large can.
const THICKNESS_MM: std::ops::RangeInclusive<f64> = 0.3..=80.0;

/// Readings of one point that differ by more than both are not readings of one point: a share of their mean, and in mm five
/// times the usual scatter of a reading (common practice).
const ONE_POINT_SHARE: f64 = 0.05;
const ONE_POINT_MM: f64 = 0.2;

/// A number is a point that was read once, a list inside the list the readings of one point.
pub(super) fn thicknesses(value: &Value) -> Result<Vec<Vec<f64>>, String> {
    let list = match value {
        Value::Array(list) => list.clone(),
        single => vec![single.clone()],
    };
    let number = |value: &Value| match value {
        Value::Float(number) => believed(*number),
        Value::Integer(number) => believed(*number as f64),
        other => Err(format!("thickness_mm holds numbers in mm, not {other}")),
    };
    list.iter()
        .map(|point| match point {
            Value::Array(readings) if !readings.is_empty() => {
                of_one_point(readings.iter().map(number).collect::<Result<_, _>>()?)
            }
            single => Ok(vec![number(single)?]),
        })
        .collect()
}

/// Refuses a comma that may stand for a decimal point: "3,3" is three and a third to one and two readings to another. A
/// comma is taken to separate where a space is beside it, or where the numbers on both sides have a point of their own.
pub(super) fn no_decimal_comma(written: &str) -> Result<(), String> {
    let is_number = |letter: char| letter.is_ascii_digit() || letter == '.';
    let without_comments = written.lines().map(|line| line.split('#').next().unwrap_or_default());
    for line in without_comments {
        for (place, _) in line.match_indices(',') {
            let (before, after) =
                (line.get(..place).unwrap_or_default(), line.get(place + 1..).unwrap_or_default());
            let left = before.rsplit(|letter| !is_number(letter)).next().unwrap_or_default();
            let right = after.split(|letter| !is_number(letter)).next().unwrap_or_default();
            let is_clear = left.contains('.') && right.contains('.');
            if !left.is_empty() && !right.is_empty() && !is_clear {
                return Err(format!(
                    "is \"{left},{right}\" one number or two? Write the decimals with a point ({left}.{right}), and \
                     between two numbers a comma with a space after it"
                ));
            }
        }
    }
    Ok(())
}

/// Refuses readings that differ by more than repeated readings of one point do.
pub(super) fn of_one_point(readings: Vec<f64>) -> Result<Vec<f64>, String> {
    let (mut thin, mut thick) = (f64::INFINITY, 0.0f64);
    for one in &readings {
        (thin, thick) = (thin.min(*one), thick.max(*one));
    }
    if readings.is_empty() {
        return Err("there is no reading in it; write a thickness in mm, such as 3.31".to_owned());
    }
    if thick - thin > ONE_POINT_MM.max(ONE_POINT_SHARE * thin) {
        return Err(format!(
            "{thin} and {thick} mm are no readings of one point; give each point by itself, and write decimals with a point"
        ));
    }
    Ok(readings)
}

pub(super) fn believed(millimetres: f64) -> Result<f64, String> {
    if THICKNESS_MM.contains(&millimetres) {
        return Ok(millimetres);
    }
    let (thin, thick) = (THICKNESS_MM.start(), THICKNESS_MM.end());
    Err(format!("a thickness of {millimetres} mm is outside {thin} to {thick} mm; measure again, in mm"))
}
