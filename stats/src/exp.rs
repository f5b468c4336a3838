//! An exponential for chances.

/// e^x of x in -87 to 0 (below: as good as nothing), to 1 in 100,000, single precision of the exponent, without a branch or
/// a call, so that several are had at once: 2^whole by its bits, and the rest of the exponent by its Taylor series.
pub fn exp_below(x: f32) -> f32 {
    // Adding 1.5 * 2^23 leaves no room for a fraction.
    const WHOLE: f32 = 12_582_912.0;
    let two = x.max(-87.0) * std::f32::consts::LOG2_E;
    let whole = (two + WHOLE) - WHOLE;
    let t = (two - whole) * std::f32::consts::LN_2;
    let series = 1.0 + t * (1.0 + t * (0.5 + t * (1.0 / 6.0 + t * (1.0 / 24.0 + t * (1.0 / 120.0)))));
    f32::from_bits(((whole as i32 + 127) as u32) << 23) * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponentials_as_the_library_has_them() {
        for i in 0..=87_000 {
            let x = -(i as f32) / 1000.0;
            assert!((exp_below(x) / x.exp() - 1.0).abs() < 1e-5, "{x}");
        }
        assert_eq!(exp_below(0.0), 1.0);
        assert!(exp_below(f32::NEG_INFINITY) < 1e-37);
    }
}
