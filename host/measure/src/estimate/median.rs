//! The median, quick also for thousands of values.

/// From this many values on, a sample of so many shows where their middle lies.
const MANY_VALUES: usize = 1024;
const SAMPLE: usize = 128;
/// Places in the sample around its own middle that hold the true one: three standard deviations of a sampled rank.
const SAMPLE_MARGIN: usize = 17;

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
/// brackets it with; `None` if there are few values or the bracket misses.
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
    }
}
