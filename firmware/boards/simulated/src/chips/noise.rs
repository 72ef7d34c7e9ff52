//! White noise from a seed: the same seed gives the same noise.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A source of noise.
#[derive(Clone, Debug)]
pub struct Noise(ChaCha8Rng);

impl Noise {
    /// Returns the source number `stream` of a seed; different streams have nothing to do with each other.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(stream);
        Self(source)
    }

    /// Returns a normally distributed value with mean 0 and this standard deviation.
    pub fn normal(&mut self, deviation: f64) -> f64 {
        deviation * self.0.sample::<f64, _>(StandardNormal)
    }

    /// Returns a value that is anywhere from 0 to `most` with equal odds.
    pub fn uniform(&mut self, most: f64) -> f64 {
        most * self.0.random::<f64>()
    }
}
