//! What resistance to expect of a cell before it is measured: the class narrowed by what the book knows of the model.
//!
//! All on the logarithm. The class says where the mean of a model lies (eight published models and how they scatter); the
//! model's cells in the book say it again, better; both are joined as normal distributions by their precisions. One
//! cell more lies around that mean as the cells in the book do. New cells are the reference where there are enough of
//! them; else all cells as they came, worn ones among them, and that is said. Limits of the policy stay what they are.

use super::normal_model::{FEWEST_CELLS, Known, Population};
use super::{Sibling, as_last_known, shared_gain};
use crate::uncertainty::Input;
use serde::{Deserialize, Serialize};

/// Spread between cells of one model that is believed at least, as a share: the moment estimate of a few cells is often
/// zero (judged; makers sort new cells by resistance to a few per cent).
const LEAST_SPREAD: f64 = 0.02;

/// The resistance at 25 degC that class and siblings let expect, each apart and both joined; in ohm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExpectedResistance {
    /// Of the class alone: any model of this rated capacity.
    pub class: Known,
    /// Of the siblings alone: their mean.
    pub siblings: Known,
    /// How many siblings.
    pub cells: usize,
    /// Whether they were all new.
    pub new: bool,
    /// Of one cell of the model, from both.
    pub expected: Known,
    /// Weight of the class in the model's mean, 0 to 1; the rest is the siblings'.
    pub weight_of_class: f64,
    /// This cell over what is expected; nothing where it was not measured.
    pub ratio: Option<f64>,
    /// Standard deviations that it lies from there.
    pub distance: Option<f64>,
}

/// Joins class and siblings; nothing where the class does not serve the label or the book knows too few cells.
pub(super) fn expected_resistance(
    class: &Input,
    own: Option<Known>,
    siblings: &[Sibling],
) -> Option<ExpectedResistance> {
    let (of_siblings, new) = reference(siblings)?;
    let population = Population::of(&of_siblings)?;
    let (mean, doubt) = (population.mean.value, population.mean.standard_uncertainty.hypot(shared_gain()));
    let spread = population.spread.max(LEAST_SPREAD);
    let weight_of_class =
        doubt * doubt / (doubt * doubt + class.standard_uncertainty * class.standard_uncertainty);
    let logarithm = weight_of_class * class.value + (1.0 - weight_of_class) * mean;
    let of_mean = weight_of_class.sqrt() * class.standard_uncertainty;
    // Variance of Student's t: few cells tell their spread badly.
    let cells = population.cells as f64;
    let few = ((cells - 1.0) / (cells - 3.0)).sqrt();
    let deviation = of_mean.hypot(spread * few);
    let known = |logarithm: f64, deviation: f64| {
        let value = logarithm.exp();
        Known { value, standard_uncertainty: value * deviation }
    };
    let own = own.filter(|own| own.value > 0.0);
    let away = own.map(|own| {
        let doubt = deviation.hypot(own.standard_uncertainty / own.value);
        (own.value.ln() - logarithm) / doubt
    });
    Some(ExpectedResistance {
        class: known(class.value, class.standard_uncertainty),
        siblings: known(mean, doubt),
        cells: population.cells,
        new,
        expected: known(logarithm, deviation),
        weight_of_class,
        ratio: own.map(|own| own.value / logarithm.exp()),
        distance: away,
    })
}

/// Returns the logarithms of the reference cells: the new ones where they are enough, else each cell as last known.
fn reference(siblings: &[Sibling]) -> Option<(Vec<Known>, bool)> {
    let logarithm = |one: &Sibling| {
        let known = one.resistance_25c.filter(|known| known.value > 0.0)?;
        let standard_uncertainty = known.standard_uncertainty / known.value;
        Some(Known { value: known.value.ln(), standard_uncertainty })
    };
    let new: Vec<Known> = siblings.iter().filter(|one| one.new).filter_map(logarithm).collect();
    if new.len() >= FEWEST_CELLS {
        return Some((new, true));
    }
    let all: Vec<Known> = as_last_known(siblings).filter_map(logarithm).collect();
    (all.len() >= FEWEST_CELLS).then_some((all, false))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class() -> Input {
        Input::new("logarithm", "1", -2.17, 0.19)
    }

    fn cell(number: usize, ohms: f64, new: bool) -> Sibling {
        Sibling {
            cell: format!("PE-{number}"),
            entry: number as u32,
            new,
            capacity_fraction: None,
            resistance_25c: Some(Known { value: ohms, standard_uncertainty: 0.01 * ohms }),
        }
    }

    fn cells(ohms: &[f64], new: bool) -> Vec<Sibling> {
        ohms.iter().enumerate().map(|(number, ohms)| cell(number, *ohms, new)).collect()
    }

    /// The joined mean of the model against brute force: prior times likelihood on a grid of means, normal each.
    #[test]
    fn the_joined_mean_is_that_of_prior_times_likelihood() {
        let others = cells(&[0.080, 0.110, 0.095, 0.120, 0.088, 0.101], false);
        let found = expected_resistance(&class(), None, &others).unwrap();
        let data = found.siblings;
        let (mean, doubt) = (data.value.ln(), data.standard_uncertainty / data.value);
        let density = |x: f64, mean: f64, deviation: f64| (-0.5 * ((x - mean) / deviation).powi(2)).exp();
        let (mut whole, mut first, mut second) = (0.0, 0.0, 0.0);
        for step in 0..200_000 {
            let x = -4.0 + 3.0 * f64::from(step) / 200_000.0;
            let weight = density(x, class().value, class().standard_uncertainty) * density(x, mean, doubt);
            whole += weight;
            first += weight * x;
            second += weight * x * x;
        }
        let joined = first / whole;
        approx::assert_relative_eq!(found.expected.value.ln(), joined, epsilon = 1e-9);
        // The cell's own spread comes on top of what the mean leaves open.
        let of_mean = (second / whole - joined * joined).sqrt();
        let all = found.expected.standard_uncertainty / found.expected.value;
        let spread = Population::of(&reference(&others).unwrap().0).unwrap().spread;
        approx::assert_relative_eq!(all, of_mean.hypot(spread * (5f64 / 3.0).sqrt()), max_relative = 1e-6);
    }

    #[test]
    fn alike_siblings_narrow_the_class_and_the_weights_tell_by_how_much() {
        let others = cells(&[0.100, 0.102, 0.098, 0.101, 0.099, 0.100], true);
        let own = Known { value: 0.150, standard_uncertainty: 0.002 };
        let found = expected_resistance(&class(), Some(own), &others).unwrap();
        assert!(found.new && found.cells == 6);
        let share = |known: Known| known.standard_uncertainty / known.value;
        assert!(share(found.class) > 0.18 && share(found.expected) < 0.04, "{found:?}");
        assert!(found.weight_of_class < 0.01 && (found.expected.value - 0.100).abs() < 0.001);
        // Half as much again: nothing odd for the class, far out for the model.
        assert!(found.distance.unwrap() > 8.0 && (found.ratio.unwrap() - 1.5).abs() < 0.02);
    }

    #[test]
    fn new_cells_are_the_reference_where_they_are_enough() {
        let mut others = cells(&[0.100; 5], true);
        others.extend((10..20).map(|number| cell(number, 0.160, false)));
        let found = expected_resistance(&class(), None, &others).unwrap();
        assert!(found.new && found.cells == 5 && found.expected.value < 0.102);
        // Four are not; then all count, and one that came back counts once and as it is now.
        others.remove(0);
        others.push(cell(1, 0.160, false));
        let found = expected_resistance(&class(), None, &others).unwrap();
        assert!(!found.new && found.cells == 14 && found.expected.value > 0.14, "{found:?}");
        assert_eq!(expected_resistance(&class(), None, &cells(&[0.1; 4], true)), None);
    }
}
