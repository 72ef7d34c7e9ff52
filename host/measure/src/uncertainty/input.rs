//! An input quantity: best value, standard uncertainty, degrees of freedom and the shape of its distribution.

/// What is known of a quantity beyond value and standard uncertainty.
///
/// The width always follows from the standard uncertainty, so that first order and Monte Carlo start from the same.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Shape {
    /// Normal; or, with finite degrees of freedom, the scaled and shifted t (JCGM 101, 6.4.9).
    #[default]
    Normal,
    /// Equally likely within limits of `sqrt(3)` standard uncertainties (JCGM 101, 6.4.2).
    Rectangular,
}

/// A few words that mostly are constants of the program: a budget of ten lines, made for each of two dozen numbers, copies none.
pub type Text = std::borrow::Cow<'static, str>;

/// An input quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it is, in a few words.
    pub name: Text,
    /// Symbol of its unit; `1` for a plain ratio.
    pub unit: &'static str,
    /// Best value.
    pub value: f64,
    /// Standard uncertainty (one standard deviation), in the same unit.
    pub standard_uncertainty: f64,
    /// Degrees of freedom of that uncertainty; infinite where it is taken as known.
    pub degrees_of_freedom: f64,
    /// Shape of its distribution.
    pub shape: Shape,
}

impl Input {
    /// Makes a normal quantity whose uncertainty is taken as known.
    pub fn new(name: impl Into<Text>, unit: &'static str, value: f64, standard_uncertainty: f64) -> Self {
        let shape = Shape::Normal;
        Self {
            name: name.into(),
            unit,
            value,
            standard_uncertainty,
            degrees_of_freedom: f64::INFINITY,
            shape,
        }
    }

    /// Makes a rectangular quantity from the half-width of its limits.
    pub fn rectangular(name: impl Into<Text>, unit: &'static str, value: f64, half_width: f64) -> Self {
        Self { shape: Shape::Rectangular, ..Self::new(name, unit, value, half_width / 3f64.sqrt()) }
    }

    /// Makes a quantity of the arithmetic mean of repeated readings (GUM 4.2: type A).
    pub fn mean_of(name: impl Into<Text>, unit: &'static str, readings: &[f64]) -> Self {
        let n = readings.len() as f64;
        let mean = readings.iter().sum::<f64>() / n;
        let variance = readings.iter().map(|reading| (reading - mean).powi(2)).sum::<f64>() / (n - 1.0);
        Self::new(name, unit, mean, (variance / n).sqrt()).with_degrees_of_freedom(n - 1.0)
    }

    /// Sets the degrees of freedom of the uncertainty.
    #[must_use]
    pub fn with_degrees_of_freedom(self, degrees_of_freedom: f64) -> Self {
        Self { degrees_of_freedom, ..self }
    }

    /// Sets the shape.
    #[must_use]
    pub fn with_shape(self, shape: Shape) -> Self {
        Self { shape, ..self }
    }
}
