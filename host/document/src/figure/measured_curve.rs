//! A panel made of a measured curve and of what was read of it, with whole steps at its edges.

use super::{Axis, Curve, Layout, Mark, Panel};

/// What was read of a curve: where across, where up, what it is called, and its figure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// Where across.
    pub at: f64,
    /// Where up.
    pub value: f64,
    /// What it is called.
    pub label: String,
    /// Its figure.
    pub figure: String,
}

/// Lays out a curve with what was read of it, in a panel whose axes end at whole steps.
pub fn curve_panel(points: Vec<[f64; 2]>, readings: Vec<Reading>, across_label: String, unit: &str) -> Panel {
    let (mut across, mut up) =
        (ends(points.iter().map(|[at, _]| *at)), ends(points.iter().map(|[_, up]| *up)));
    for reading in &readings {
        across = Axis { low: across.low.min(reading.at), high: across.high.max(reading.at) };
        up = Axis { low: up.low.min(reading.value), high: up.high.max(reading.value) };
    }
    let room = (0.06 * (up.high - up.low)).max(1e-4);
    let axis = Axis { low: up.low - room, high: up.high + room };
    let mark = |reading: &Reading| Mark {
        label: reading.label.clone(),
        value: reading.value,
        figure: reading.figure.clone(),
        ..Mark::default()
    };
    Panel {
        layout: Layout::Curve,
        axis,
        marks: readings.iter().map(mark).collect(),
        curve: Some(Curve {
            ticks: steps(across, 6.0)
                .into_iter()
                .map(|(at, digits)| (at, format!("{at:.digits$}")))
                .collect(),
            rungs: steps(axis, 4.0)
                .into_iter()
                .map(|(at, digits)| (at, format!("{at:.digits$} {unit}")))
                .collect(),
            across,
            across_label,
            points,
            instants: readings.iter().map(|reading| reading.at).collect(),
        }),
        ..Panel::default()
    }
}

fn ends(numbers: impl Iterator<Item = f64>) -> Axis {
    let (low, high) = numbers
        .filter(|number| number.is_finite())
        .fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(x), high.max(x)));
    if low < high { Axis { low, high } } else { Axis { low: low.min(0.0), high: low.min(0.0) + 1.0 } }
}

/// Whole steps of 1, 2 or 5 within an axis, about as many as wanted, each with the digits it needs.
fn steps(axis: Axis, wanted: f64) -> Vec<(f64, usize)> {
    let rough = (axis.high - axis.low) / wanted;
    let ten = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|times| times * ten)
        .find(|step| *step >= rough)
        .unwrap_or(rough);
    let digits = (-step.log10().floor()).max(0.0) as usize;
    let first = (axis.low / step - 1e-9).ceil() as i64;
    let last = (axis.high / step + 1e-9).floor() as i64;
    (first..=last.min(first + 50)).map(|number| (number as f64 * step, digits)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::drawn_curve::drawn;
    use crate::figure::shape::Shape;
    use crate::figure::strokes::WIDTH;

    #[test]
    fn steps_are_whole_and_lie_within() {
        let told = |low, high| {
            steps(Axis { low, high }, 4.0)
                .into_iter()
                .map(|(at, digits)| format!("{at:.digits$}"))
                .collect::<Vec<_>>()
        };
        assert_eq!(told(3.961, 4.203), ["4.0", "4.1", "4.2"]);
        assert_eq!(told(-1.0, 11.0), ["0", "5", "10"]);
        assert_eq!(told(0.0, 0.08), ["0.00", "0.02", "0.04", "0.06", "0.08"]);
    }

    #[test]
    fn a_curve_is_drawn_within_its_panel_whatever_it_holds() {
        for points in [vec![], vec![[0.0, 4.1]], vec![[-1.0, 4.1], [0.0, 3.9], [10.0, 3.8]]] {
            let reading =
                Reading { at: 1.0, value: 3.87, label: "1 s".to_owned(), figure: "R 40 mOhm".to_owned() };
            let panel = curve_panel(points, vec![reading], "s".to_owned(), "V");
            let mut shapes = Vec::new();
            let height = drawn(&mut shapes, &panel, 10.0);
            for shape in shapes {
                let Shape::Course { points, .. } = shape else { continue };
                assert!(
                    points
                        .iter()
                        .all(|[x, y]| (0.0..=WIDTH).contains(x) && (10.0..=10.0 + height).contains(y)),
                    "{points:?}"
                );
            }
        }
    }
}
