//! Random numbers that are the same on every machine: a named generator and a seed, never the clock.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A stream of random numbers (xoshiro256++ of Blackman and Vigna).
#[derive(Debug, Clone)]
pub struct Random(Xoshiro256PlusPlus);

impl Random {
    /// The stream of a seed.
    pub fn new(seed: u64) -> Random {
        Random(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// From 0 up to, not with, 1.
    pub fn uniform(&mut self) -> f64 {
        self.0.random()
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }
}
