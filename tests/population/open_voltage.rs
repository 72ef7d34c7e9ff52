//! The rested voltage of one true cell over its state of charge: the class's table, moved and bent for this cell.
//!
//! Cells of a class differ in two ways. The whole curve lies higher or lower: one draw of the table's own spread. And it
//! bends elsewhere, because the steps of the graphite lie elsewhere in an aged cell: slopes that swing around the
//! table's, by as much as published curves do, and a charge that is off the table's by as much.

use crate::curve::Curve;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::Deserialize;

const TABLES: &str = include_str!("../../host/measure/src/chemistry/open_circuit_voltage.toml");
/// Charge limits of the classes with a table, V.
pub const CLASSES_V: [f64; 3] = [4.20, 4.35, 4.40];
/// Least spread of the state of charge between cells of a class, %: what the estimator holds tables to at best.
const LEAST_PERCENT: f64 = 2.0;
/// A full cell is full by definition: over the last per cent the least spread fades out.
const FADES_PERCENT: f64 = 10.0;
/// Slope of an aged cell's voltage over that of a new cell's table with points every 10 %, less one, root mean square:
/// 10 and 20 % of the lithium or 15 % of the anode lost, from the published potentials of Ai2020, Chen2020, Ecker2015,
/// Marquis2019, OKane2022, Mohtat2020 and ORegan2022 in PyBaMM 26.10 (`tests/reference/slopes.py`). Below 60 % charge, where
/// the steps of the graphite make the slope, a cell is like any of them.
const PUBLISHED: [f64; 7] = [0.39, 0.32, 0.52, 0.95, 0.48, 0.41, 0.36];
/// Above, where the cathode makes it, like the one with cobalt oxide: the classes are cobalt cells'.
const COBALT: f64 = 0.23;
const HIGH: f64 = 0.60;
/// The smooth curve through the table's points already differs by this from the straight lines between them, in both parts.
const SMOOTH: [f64; 2] = [0.15, 0.06];
/// Charge by which a cell that has aged is off the table of new ones, standard deviation at 40 % charge; root mean square
/// 0.067 below 60 % charge and 0.040 above, where the same sets have 0.055 to 0.093, and the cobalt cell 0.039. The part of
/// the slopes above that is its doing.
const AGED_CHARGE: f64 = 0.08;
const AGED_MOST_AT: f64 = 0.4;
const AGED_SLOPES: [f64; 2] = [0.19, 0.17];
/// Beyond this the scale would come near to running backwards.
const MOST_AGED: f64 = 0.2;
/// Swings of the slope between empty and full: features of 7 to 17 % of the charge.
const SWINGS: std::ops::RangeInclusive<u32> = 6..=14;
/// Distance of the points that a curve is made through, %.
const FINE: usize = 1;

#[derive(Deserialize)]
struct Tables {
    table: Vec<Table>,
}

#[derive(Deserialize)]
struct Table {
    charge_limit_v: f64,
    percent: Vec<f64>,
    voltage_mv: Vec<f64>,
    spread_mv: Vec<f64>,
}

impl Table {
    fn of(charge_limit_v: f64) -> Self {
        let tables: Tables = toml::from_str(TABLES).expect("tables");
        let of_class = |table: &Table| (table.charge_limit_v - charge_limit_v).abs() < 1e-9;
        tables.table.into_iter().find(of_class).expect("a table for each class")
    }

    fn usual(&self) -> Curve {
        Curve::through(&self.percent, &self.voltage_mv)
    }
}

/// Where on the table's scale a cell is that holds a share of its own charge, in steps of [`FINE`] per cent.
#[derive(Clone, Debug)]
struct Scale {
    percent: Vec<f64>,
    /// By how much its places scatter over the charge, root mean square, in per cent.
    scatter: f64,
}

impl Scale {
    /// A scale on which the slope swings as on one of the published curves.
    fn swinging(random: &mut ChaCha8Rng) -> Self {
        let low = PUBLISHED[random.random_range(0..PUBLISHED.len())];
        let mut swing = || {
            let count = f64::from(random.random_range(SWINGS));
            let phase = random.random::<f64>() * std::f64::consts::TAU;
            move |charge: f64| (std::f64::consts::TAU * count * charge + phase).cos()
        };
        let (first, second) = (swing(), swing());
        let factor = |charge: f64| {
            let part = usize::from(charge >= HIGH);
            let wanted: f64 = if part == 0 { low } else { COBALT };
            let own = (wanted * wanted - SMOOTH[part].powi(2) - AGED_SLOPES[part].powi(2)).max(0.0);
            // Of the logarithm, so that no slope changes its sign: a root mean square of `own` for the factor itself.
            let deviation = own.ln_1p().sqrt();
            (deviation * (first(charge) + second(charge))).exp()
        };
        let steps = 100 / FINE;
        let middle = |step: usize| (step as f64 + 0.5) / steps as f64;
        let is_high = |step: usize| middle(step) >= HIGH;
        // Neither part as a whole becomes longer on account of its swings.
        let mean = [false, true].map(|high| {
            let part: Vec<f64> =
                (0..steps).filter(|step| is_high(*step) == high).map(|step| factor(middle(step))).collect();
            part.iter().sum::<f64>() / part.len() as f64
        });
        let mut percent = vec![0.0];
        for step in 0..steps {
            let last = percent.last().copied().unwrap_or(0.0);
            percent.push(last + FINE as f64 * factor(middle(step)) / mean[usize::from(is_high(step))]);
        }
        let off = |(step, place): (usize, &f64)| (place - (step * FINE) as f64).powi(2);
        let scatter = (percent.iter().enumerate().map(off).sum::<f64>() / percent.len() as f64).sqrt();
        Self { percent, scatter }
    }

    /// The same scale for a cell that has aged: at each charge it seems to hold more or less by one draw of the spread.
    fn aged(self, random: &mut ChaCha8Rng) -> Self {
        let z: f64 = StandardNormal.sample(random);
        let height = (AGED_CHARGE * z).clamp(-MOST_AGED, MOST_AGED);
        let places: Vec<f64> = (0..self.percent.len()).map(|step| (step * FINE) as f64).collect();
        let hump = |charge: f64| charge * (1.0 - charge).powf(1.5);
        let unaged = Curve::through(&places, &self.percent);
        let place =
            |percent: &f64| unaged.at(percent + 100.0 * height * hump(percent / 100.0) / hump(AGED_MOST_AT));
        Self { percent: places.iter().map(place).collect(), scatter: self.scatter }
    }

    /// A scale on which one part of the charge seems larger by a share than it is.
    fn stretched([from, to]: [f64; 2], share: f64) -> Self {
        let wave = |charge: f64| (std::f64::consts::TAU * charge).sin();
        // Beyond this the scale would run backwards.
        let height = (share * (from - to) / (wave(from) - wave(to))).clamp(-0.15, 0.15);
        let place = |step: usize| {
            let charge = (step * FINE) as f64 / 100.0;
            100.0 * (charge + height * wave(charge))
        };
        Self { percent: (0..=100 / FINE).map(place).collect(), scatter: 0.0 }
    }
}

/// Draws the curve of a cell, in mV over per cent; `z` is its place in the spread between cells.
pub fn draw(random: &mut ChaCha8Rng, charge_limit_v: f64, z: f64) -> Curve {
    let table = Table::of(charge_limit_v);
    let usual = table.usual();
    let scale = Scale::swinging(random).aged(random);
    let mut moved_mv: Vec<f64> = Vec::new();
    for (index, percent) in table.percent.iter().enumerate() {
        let slope_mv = (usual.at(percent + 1.0) - usual.at(percent - 1.0)) / 2.0;
        let fades = ((100.0 - percent) / FADES_PERCENT).min(1.0);
        let spread_mv = table.spread_mv[index].max(LEAST_PERCENT * slope_mv * fades);
        // The stated spread is all that cells differ by; the swings have their part of it.
        let swings_mv = scale.scatter * slope_mv * fades;
        let spread_mv = (spread_mv * spread_mv - swings_mv * swings_mv).max(0.0).sqrt();
        let before_mv = moved_mv.last().map_or(f64::NEG_INFINITY, |before| before + 0.5);
        moved_mv.push((table.voltage_mv[index] + z * spread_mv).max(before_mv));
    }
    along(&Curve::through(&table.percent, &moved_mv), &scale)
}

/// Makes the curve of a cell on whose class table a part of the charge, from one share down to another, seems larger by a
/// share than it is; nothing else about the curve is unusual.
pub fn stretched(charge_limit_v: f64, part: [f64; 2], share: f64) -> Curve {
    along(&Table::of(charge_limit_v).usual(), &Scale::stretched(part, share))
}

fn along(curve: &Curve, scale: &Scale) -> Curve {
    let percent: Vec<f64> = (0..scale.percent.len()).map(|step| (step * FINE) as f64).collect();
    let mut heights: Vec<f64> = Vec::with_capacity(percent.len());
    for place in &scale.percent {
        let before = heights.last().map_or(f64::NEG_INFINITY, |before| before + 1e-3);
        heights.push(curve.at(*place).max(before));
    }
    Curve::through(&percent, &heights)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// The slopes of drawn cells against their class's table, read as the published ones were.
    #[test]
    fn drawn_curves_bend_as_the_published_ones() {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let (mut squares, mut count) = ([0.0; 2], [0.0; 2]);
        for index in 0..300 {
            let limit = CLASSES_V[index % 3];
            let table = Table::of(limit);
            let curve = draw(&mut random, limit, 0.0);
            let line = |x: &[f64], y: &[f64], at: f64| {
                let right = x.partition_point(|place| *place < at).clamp(1, x.len() - 1);
                y[right - 1] + (y[right] - y[right - 1]) * (at - x[right - 1]) / (x[right] - x[right - 1])
            };
            for step in 12..390 {
                let percent = f64::from(step) * 0.25;
                let place = line(&table.voltage_mv, &table.percent, curve.at(percent)).clamp(0.0, 100.0);
                let (low, high) = ((place - 5.0).max(0.0), (place + 5.0).min(100.0));
                let secant = (line(&table.percent, &table.voltage_mv, high)
                    - line(&table.percent, &table.voltage_mv, low))
                    / (high - low);
                let slope = (curve.at(percent) - curve.at(percent - 0.139)) / 0.139;
                let part = usize::from(percent >= 60.0);
                squares[part] += (slope / secant - 1.0).powi(2);
                count[part] += 1.0;
            }
        }
        let low = (PUBLISHED.iter().map(|set| set.powi(2)).sum::<f64>() / PUBLISHED.len() as f64).sqrt();
        for (part, published) in [low, COBALT].into_iter().enumerate() {
            let root = f64::sqrt(squares[part] / count[part]);
            assert!((root / published - 1.0).abs() < 0.15, "{root} against {published}");
        }
    }
}
