//! The four corners: what is on the scales, or by how much it changes.

/// Load on each wheel, or a change of it, lb. Left and right as the driver sits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corners {
    /// Left front, lb.
    pub lf_lb: f64,
    /// Right front, lb.
    pub rf_lb: f64,
    /// Left rear, lb.
    pub lr_lb: f64,
    /// Right rear, lb.
    pub rr_lb: f64,
}

/// Shares of the whole weight, per cent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shares {
    /// Both front wheels, %.
    pub front_pct: f64,
    /// Both rear wheels, %.
    pub rear_pct: f64,
    /// Both left wheels, %.
    pub left_pct: f64,
    /// Both right wheels, %.
    pub right_pct: f64,
    /// Right front and left rear, %: the diagonal that round-track racers call cross (common practice, no source).
    pub cross_rf_lr_pct: f64,
    /// Left front and right rear, %: the other diagonal, which a car preloaded at the right rear has heavy.
    pub cross_lf_rr_pct: f64,
}

impl Corners {
    /// All four, lb.
    pub fn total_lb(&self) -> f64 {
        self.lf_lb + self.rf_lb + self.lr_lb + self.rr_lb
    }

    /// Right rear less left rear, lb.
    pub fn rear_difference_lb(&self) -> f64 {
        self.rr_lb - self.lr_lb
    }

    /// Shares of the total: arithmetic. None unless the total is above 0, as with changes of load.
    pub fn shares(&self) -> Option<Shares> {
        let total = self.total_lb();
        if total.is_nan() || total <= 0.0 {
            return None;
        }
        let pct = |one: f64, other: f64| 100.0 * (one + other) / total;
        Some(Shares {
            front_pct: pct(self.lf_lb, self.rf_lb),
            rear_pct: pct(self.lr_lb, self.rr_lb),
            left_pct: pct(self.lf_lb, self.lr_lb),
            right_pct: pct(self.rf_lb, self.rr_lb),
            cross_rf_lr_pct: pct(self.rf_lb, self.lr_lb),
            cross_lf_rr_pct: pct(self.lf_lb, self.rr_lb),
        })
    }

    /// Left for right.
    pub fn mirrored(&self) -> Corners {
        Corners { lf_lb: self.rf_lb, rf_lb: self.lf_lb, lr_lb: self.rr_lb, rr_lb: self.lr_lb }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_has_no_shares() {
        let change = Corners { lf_lb: -40.0, rf_lb: 40.0, lr_lb: 50.0, rr_lb: -50.0 };
        assert_eq!((change.total_lb(), change.shares()), (0.0, None));
        assert_eq!(Corners { lf_lb: f64::NAN, ..change }.shares(), None);
    }
}
