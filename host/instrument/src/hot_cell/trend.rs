//! The temperatures of the last ten minutes, smoothed: whether the cell cools, and whether it heats up away from the air.
//!
//! Input: cell and rise over the air, reading by reading. Each figure is a median over a minute, so that neither noise nor single
//! wild readings move it. Where nobody saw anything for long, the last that was seen before counts as if it were within
//! the span: what may have grown meanwhile is taken to have grown fast.

use super::alarm::TrendLimits;
use std::collections::VecDeque;

/// Span of a median, in s (our choice: thirty readings of a watch at its usual pace).
const SMOOTH_S: f64 = 60.0;
/// Fewest readings of a median: of three one may be wild (our choice).
const FEWEST: usize = 3;
/// Time between the medians that are kept, in s (our choice: twenty of them in the span of a trend).
const STEP_S: f64 = 30.0;
/// Shortest time over which it can be told whether a cell cools, in s: at 2 K over the air one that cools with the slowest time
/// constant falls by 0.07 K in it, and medians of readings that scatter by 0.05 K by 0.02 K at most.
const TELLS_AFTER_S: f64 = 120.0;

#[derive(Clone, Copy, Debug)]
struct Point {
    at_s: f64,
    cell_c: f64,
    rise_k: Option<f64>,
}

/// Follows the temperatures of one watch.
#[derive(Clone, Debug)]
pub(super) struct Trend {
    limits: TrendLimits,
    recent: VecDeque<Point>,
    kept: VecDeque<Point>,
    now: Option<Point>,
    coolest_rise_k: Option<f64>,
}

impl Trend {
    pub(super) fn new(limits: TrendLimits) -> Self {
        Self { limits, recent: VecDeque::new(), kept: VecDeque::new(), now: None, coolest_rise_k: None }
    }

    /// Takes the temperatures of a moment; `rise_k` is `None` where the air's is not known.
    pub(super) fn take(&mut self, at_s: f64, cell_c: f64, rise_k: Option<f64>) {
        if at_s < self.limits.settle_s {
            return;
        }
        self.recent.push_back(Point { at_s, cell_c, rise_k });
        while self.recent.len() > FEWEST
            && self.recent.front().is_some_and(|first| at_s - first.at_s > SMOOTH_S)
        {
            self.recent.pop_front();
        }
        self.now = self.smoothed(at_s);
        let Some(now) = self.now else { return };
        if let Some(rise) = now.rise_k {
            self.coolest_rise_k = Some(self.coolest_rise_k.map_or(rise, |coolest| coolest.min(rise)));
        }
        if self.kept.back().is_none_or(|last| at_s - last.at_s >= STEP_S) {
            self.kept.push_back(now);
        }
        let begin_s = at_s - self.limits.window_s;
        while self.kept.get(1).is_some_and(|second| second.at_s <= begin_s) {
            self.kept.pop_front();
        }
    }

    fn smoothed(&self, at_s: f64) -> Option<Point> {
        let cell_c = median(self.recent.iter().map(|point| point.cell_c))?;
        Some(Point { at_s, cell_c, rise_k: median(self.recent.iter().filter_map(|point| point.rise_k)) })
    }

    /// Returns whether the cell is above the air beyond the doubt of the thermometers; so it counts where that is not known.
    fn above_air(&self, now: &Point) -> bool {
        now.rise_k.is_none_or(|rise| rise > self.limits.apart_k)
    }

    /// Returns how far the cell has gone away from the air, in K, where it has warmed by itself too, both by at least the
    /// given share of their limits.
    pub(super) fn grown(&self, share: f64) -> Option<f64> {
        let now = self.now.filter(|now| self.above_air(now))?;
        let (away_k, own_k) = (self.limits.away_k * share, self.limits.own_k * share);
        let since = |then: &Point| {
            let own = now.cell_c - then.cell_c;
            match (now.rise_k, then.rise_k) {
                // What lies within the doubt of the thermometers is on nobody's side of the air.
                (Some(rise), Some(before)) if own >= own_k => rise - before.max(self.limits.apart_k),
                (Some(_), Some(_)) => 0.0,
                // The air is not known: all of it may be the cell's own.
                _ => own,
            }
        };
        self.kept.iter().map(since).filter(|grown| *grown >= away_k).max_by(f64::total_cmp)
    }

    /// Returns whether the cell cools as one without a source of heat does; `None` while too little was seen.
    pub(super) fn cools(&self) -> Option<bool> {
        let now = self.now?;
        let first = self.kept.front().filter(|first| now.at_s - first.at_s >= TELLS_AFTER_S)?;
        let per_s = (now.cell_c - first.cell_c) / (now.at_s - first.at_s);
        // It may be above the air by less than it seems.
        Some(per_s <= (self.limits.apart_k - now.rise_k?) / self.limits.slowest_cooling_s)
    }

    /// Returns how far it has warmed over the air since it was coolest, however slowly, in K.
    pub(super) fn since_coolest(&self) -> Option<f64> {
        Some(self.now?.rise_k? - self.coolest_rise_k?.max(self.limits.apart_k))
    }
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    if values.len() < FEWEST {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 { Some(upper) } else { Some(f64::midpoint(*values.get(middle - 1)?, upper)) }
}
