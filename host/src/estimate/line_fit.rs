//! Fits a straight line to a few samples so that single wild ones do not matter.
//!
//! Takes times and values; gives the line's value at one moment and its slope, with standard uncertainties, by least
//! squares. Where any sample lies further off it than noise does, first a robust line is drawn (median of slopes over
//! half the samples' distance, then median of offsets) and what lies five standard deviations off is dropped. Residuals that hang together (mains hum, drift)
//! count for fewer independent samples: n (1 - r) / (1 + r) with their lag-one correlation r (autoregressive process
//! of first order). Curvature is told by the difference of the slopes of both halves and enters the uncertainty.

/// Standard deviations from the robust line at which a sample is dropped.
const WILD: f64 = 5.0;
/// Median size of a normal number, in standard deviations.
const MEDIAN_SIZE: f64 = 0.674_5;
/// Fewest samples whose own scatter tells the noise.
const ENOUGH_FOR_SCATTER: usize = 5;
/// Standard deviations that noise rarely exceeds.
const LIKELY: f64 = 2.0;
/// Up to this many samples all pairs are tried for the robust slope.
const ALL_PAIRS: usize = 12;
/// From this many values on, a sample of so many tells where their middle lies.
const MANY_VALUES: usize = 1024;
const SAMPLE: usize = 128;
/// Places in the sample around its own middle that hold the true one: three standard deviations of a sampled rank.
const SAMPLE_MARGIN: usize = 17;

/// A line through samples, seen at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    /// Value at the moment asked for.
    pub value: f64,
    /// Its standard uncertainty.
    pub value_deviation: f64,
    /// Change per second.
    pub slope: f64,
    /// Its standard uncertainty.
    pub slope_deviation: f64,
    /// Samples used.
    pub used: usize,
    /// Degrees of freedom of the uncertainties; infinite where the noise was given.
    pub degrees_of_freedom: f64,
}

/// Fits a line and evaluates it at `at`; `noise` is the scatter of one sample, used where there are too few to tell.
pub(super) fn line_at(samples: &[(f64, f64)], at: f64, noise: f64) -> Option<Line> {
    let all = Straight::through(samples)?;
    let seen = all.residuals(samples);
    if samples.len() < ENOUGH_FOR_SCATTER || seen.largest <= WILD * noise {
        return Some(line(&all, &seen, at, noise));
    }
    // Some sample may be wild, and then it has bent the line as well.
    let kept = without_wild(samples, noise);
    let straight = Straight::through(&kept)?;
    Some(line(&straight, &straight.residuals(&kept), at, noise))
}

/// Says what a straight line through samples is worth at a moment.
fn line(straight: &Straight, seen: &Residuals, at: f64, noise: f64) -> Line {
    let count = straight.whole.count as usize;
    let n = straight.whole.count;
    let scatter = if count >= ENOUGH_FOR_SCATTER { (seen.square / (n - 2.0)).sqrt() } else { noise };
    let independent = seen.independent(count);
    let variance = scatter * scatter * n / independent;
    let spread = straight.whole.spread();
    let from_mean = at - straight.origin.0 - straight.whole.mean_time();
    let (lever, slope_variance) =
        if spread > 0.0 { (from_mean * from_mean / spread, variance / spread) } else { (0.0, 0.0) };
    Line {
        value: straight.at(at),
        value_deviation: (variance * (1.0 / n + lever)).sqrt().hypot(straight.bend(variance)),
        slope: straight.slope,
        slope_deviation: slope_variance.sqrt(),
        used: count,
        degrees_of_freedom: if count >= ENOUGH_FOR_SCATTER {
            (independent - 2.0).max(1.0)
        } else {
            f64::INFINITY
        },
    }
}

/// Sums over samples that tell their straight line.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    count: f64,
    time: f64,
    value: f64,
    time_square: f64,
    product: f64,
}

impl Sums {
    fn add(&mut self, time: f64, value: f64) {
        self.count += 1.0;
        self.time += time;
        self.value += value;
        self.time_square += time * time;
        self.product += time * value;
    }

    fn and(self, other: Self) -> Self {
        Self {
            count: self.count + other.count,
            time: self.time + other.time,
            value: self.value + other.value,
            time_square: self.time_square + other.time_square,
            product: self.product + other.product,
        }
    }

    fn mean_time(&self) -> f64 {
        self.time / self.count
    }

    /// Returns the sum of the squared distances of the times from their mean.
    fn spread(&self) -> f64 {
        (self.time_square - self.time * self.mean_time()).max(0.0)
    }

    fn slope(&self) -> f64 {
        let moment = self.product - self.mean_time() * self.value;
        if self.spread() > 0.0 { moment / self.spread() } else { 0.0 }
    }
}

/// The straight line of least squares.
struct Straight {
    /// Time and value that the sums count from, so that they lose no digits.
    origin: (f64, f64),
    early: Sums,
    late: Sums,
    whole: Sums,
    /// Time from the first sample to the last.
    width: f64,
    slope: f64,
}

impl Straight {
    fn through(samples: &[(f64, f64)]) -> Option<Self> {
        let (first, last) = (samples.first()?, samples.last()?);
        let origin = ((first.0 + last.0) / 2.0, first.1);
        let (mut early, mut late) = (Sums::default(), Sums::default());
        let (before, after) = samples.split_at(samples.len() / 2);
        // Both halves side by side: two chains of additions that do not wait for each other.
        for (a, b) in before.iter().zip(after) {
            early.add(a.0 - origin.0, a.1 - origin.1);
            late.add(b.0 - origin.0, b.1 - origin.1);
        }
        for (time, value) in after.iter().skip(before.len()) {
            late.add(time - origin.0, value - origin.1);
        }
        let whole = early.and(late);
        Some(Self { origin, early, late, whole, width: last.0 - first.0, slope: whole.slope() })
    }

    fn at(&self, time: f64) -> f64 {
        let mean = self.whole.value / self.whole.count;
        self.origin.1 + mean + self.slope * (time - self.origin.0 - self.whole.mean_time())
    }

    /// Returns by how much a parabola would end off the line: its curvature times width squared over twelve. What noise
    /// of a given variance (per independent sample) makes of both slopes is not counted.
    fn bend(&self, variance: f64) -> f64 {
        let spreads = [self.early.spread(), self.late.spread()];
        if (self.whole.count as usize) < 2 * ENOUGH_FOR_SCATTER || spreads.contains(&0.0) {
            return 0.0;
        }
        let by_noise: f64 = spreads.iter().map(|spread| variance / spread).sum();
        let square = (self.late.slope() - self.early.slope()).powi(2) - LIKELY * LIKELY * by_noise;
        square.max(0.0).sqrt() * self.width / 6.0
    }

    fn residuals(&self, samples: &[(f64, f64)]) -> Residuals {
        let (offset, slope) = (self.at(0.0), self.slope);
        Residuals::of(samples.iter().map(|(time, value)| value - offset - slope * time))
    }
}

/// What samples leave off their line.
struct Residuals {
    /// Sum of squares.
    square: f64,
    /// Sum of the products of neighbours.
    lagged: f64,
    /// The largest, without its sign.
    largest: f64,
}

impl Residuals {
    fn of(residuals: impl Iterator<Item = f64>) -> Self {
        let mut seen = Self { square: 0.0, lagged: 0.0, largest: 0.0 };
        let mut before = 0.0;
        for residual in residuals {
            seen.square += residual * residual;
            seen.lagged += before * residual;
            seen.largest = if residual.abs() > seen.largest { residual.abs() } else { seen.largest };
            before = residual;
        }
        seen
    }

    /// Returns the lag-one autocorrelation; zero of residuals that are all zero.
    fn lag_one_correlation(&self) -> f64 {
        if self.square > 0.0 { self.lagged / self.square } else { 0.0 }
    }

    /// Returns how many independent samples `count` residuals are worth, at least one.
    fn independent(&self, count: usize) -> f64 {
        let n = count as f64;
        if count < 2 * ENOUGH_FOR_SCATTER {
            return n;
        }
        let correlation = self.lag_one_correlation().clamp(0.0, 0.999);
        (n * (1.0 - correlation) / (1.0 + correlation)).max(1.0)
    }
}

/// Returns the samples that lie near the robust line.
fn without_wild(samples: &[(f64, f64)], noise: f64) -> Vec<(f64, f64)> {
    let slope = robust_slope(samples);
    let offset = median(samples.iter().map(|(t, y)| y - slope * t).collect());
    let distance = |(t, y): &(f64, f64)| (y - offset - slope * t).abs();
    let deviation = (median(samples.iter().map(distance).collect()) / MEDIAN_SIZE).max(noise);
    // Without any scatter every sample counts: a limit of zero would drop the ones that rounding moved.
    let limit = if deviation > 0.0 { WILD * deviation } else { f64::INFINITY };
    samples.iter().filter(|sample| distance(sample) <= limit).copied().collect()
}

fn robust_slope(samples: &[(f64, f64)]) -> f64 {
    let pair =
        |a: &(f64, f64), b: &(f64, f64)| if b.0 > a.0 { Some((b.1 - a.1) / (b.0 - a.0)) } else { None };
    let slopes: Vec<f64> = if samples.len() <= ALL_PAIRS {
        let after = |index: usize| samples.get(index + 1..).unwrap_or(&[]);
        samples
            .iter()
            .enumerate()
            .flat_map(|(i, a)| after(i).iter().filter_map(move |b| pair(a, b)))
            .collect()
    } else {
        samples.iter().zip(samples.iter().skip(samples.len() / 2)).filter_map(|(a, b)| pair(a, b)).collect()
    };
    median(slopes)
}

/// Returns the lag-one autocorrelation of residuals of mean zero; zero of residuals that are all zero.
pub(super) fn lag_one_correlation(residuals: &[f64]) -> f64 {
    Residuals::of(residuals.iter().copied()).lag_one_correlation()
}

/// Returns the middle value; zero of none.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    if let Some(found) = middle_of_many(&values, middle) {
        return found;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Returns the value of a rank near the middle, looking closely only at the few values between two that a sample
/// brackets it with; nothing where there are few values or the bracket misses.
fn middle_of_many(values: &[f64], rank: usize) -> Option<f64> {
    if values.len() < MANY_VALUES {
        return None;
    }
    let mut sample: Vec<f64> = values.iter().step_by(values.len() / SAMPLE).copied().collect();
    sample.sort_unstable_by(f64::total_cmp);
    let half = sample.len() / 2;
    let (low, high) = (*sample.get(half - SAMPLE_MARGIN)?, *sample.get(half + SAMPLE_MARGIN)?);
    // Written first and counted after, without a branch that noise would make unpredictable.
    let mut between = vec![0.0; values.len()];
    let (mut below, mut count) = (0, 0);
    for value in values {
        *between.get_mut(count)? = *value;
        below += usize::from(*value < low);
        count += usize::from((low..=high).contains(value));
    }
    between.truncate(count);
    let rank = rank.checked_sub(below).filter(|rank| *rank < between.len())?;
    Some(*between.select_nth_unstable_by(rank, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_clean_line_is_found_exactly() {
        let samples: Vec<_> = (0..20).map(|i| (f64::from(i), 3.0 - 0.5 * f64::from(i))).collect();
        let line = line_at(&samples, 19.0, 0.0).unwrap();
        approx::assert_relative_eq!(line.value, 3.0 - 9.5, epsilon = 1e-12);
        approx::assert_relative_eq!(line.slope, -0.5, epsilon = 1e-12);
    }

    #[test]
    fn one_wild_sample_at_the_end_does_not_matter() {
        for count in [5, 6, 12, 50, 200] {
            let mut samples: Vec<_> =
                (0..count).map(|i| (f64::from(i), 3.0 + if i % 2 == 0 { 1e-4 } else { -1e-4 })).collect();
            samples.last_mut().unwrap().1 = 2.9;
            let line = line_at(&samples, f64::from(count - 1), 1e-4).unwrap();
            assert_eq!(line.used as i32, count - 1);
            assert!((line.value - 3.0).abs() < 3e-4, "{count}: {line:?}");
        }
    }

    #[test]
    fn hum_counts_for_fewer_samples_than_it_has() {
        let hum: Vec<_> = (0..200)
            .map(|i| (f64::from(i) * 1e-3, 1e-3 * (f64::from(i) * std::f64::consts::TAU * 0.05).sin()))
            .collect();
        let line = line_at(&hum, 0.2, 0.0).unwrap();
        let as_if_independent = 1e-3 / 2f64.sqrt() * 2.0 / 200f64.sqrt();
        assert!(line.value_deviation > 3.0 * as_if_independent, "{line:?}");
        assert!(line.value.abs() < 2.0 * line.value_deviation);
    }

    #[test]
    fn one_sample_takes_its_uncertainty_from_the_noise() {
        let line = line_at(&[(1.0, 3.5)], 1.0, 2e-4).unwrap();
        assert_eq!((line.value, line.value_deviation), (3.5, 2e-4));
        assert_eq!(line_at(&[], 1.0, 2e-4), None);
    }

    proptest! {
        #[test]
        fn the_middle_of_many_is_that_of_all_sorted(
            values in proptest::collection::vec(prop_oneof![-1.0..1.0f64, Just(0.25)], MANY_VALUES..3 * MANY_VALUES),
            is_sorted in any::<bool>(),
        ) {
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            let middle = sorted[sorted.len() / 2];
            prop_assert_eq!(median(if is_sorted { sorted } else { values }), middle);
        }

        #[test]
        fn a_shift_in_time_or_value_shifts_the_line_and_nothing_else(
            values in proptest::collection::vec(-1.0..1.0f64, 3..40), time in -1e4..1e4f64, value in -10.0..10.0f64,
        ) {
            let samples: Vec<_> = values.iter().enumerate().map(|(i, y)| (i as f64, *y)).collect();
            let moved: Vec<_> = samples.iter().map(|(t, y)| (t + time, y + value)).collect();
            let (a, b) = (line_at(&samples, 2.0, 0.1).unwrap(), line_at(&moved, 2.0 + time, 0.1).unwrap());
            prop_assert!((b.value - a.value - value).abs() < 1e-6);
            prop_assert!((b.slope - a.slope).abs() < 1e-6);
        }
    }
}
