//! A measured curve over time as data, with the numbers at its edges.

use super::Axis;

/// A curve: points across and up, and where across its marks stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// The numbers that it shows across.
    pub across: Axis,
    /// What is across, with its unit.
    pub across_label: String,
    /// Points, from left to right.
    pub points: Vec<[f64; 2]>,
    /// Where across each mark of the panel stands, in their order.
    pub instants: Vec<f64>,
    /// Numbers written at the left, each where it belongs.
    pub rungs: Vec<(f64, String)>,
    /// Numbers written below.
    pub ticks: Vec<(f64, String)>,
}
