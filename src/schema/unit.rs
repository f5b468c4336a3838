//! Units: one stored unit per quantity, how people type the others, and the conversion at the edge.

use super::Num;
use serde::Deserialize;

/// One unit of `schema/units.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    /// How it is written: `in`, `psi`.
    pub symbol: String,
    /// What it measures: `length`, `pressure`.
    pub quantity: String,
    /// Stored units in one of this unit.
    pub factor: f64,
    /// Stored value of this unit's zero (temperatures).
    #[serde(default)]
    pub offset: f64,
    /// Other ways to type it.
    #[serde(default)]
    pub says: Vec<String>,
    /// The unit shown to a racer who wants metric.
    pub metric: Option<String>,
    /// Singular, where it differs from the symbol.
    pub one: Option<String>,
    /// Plural, where it differs from the symbol.
    pub many: Option<String>,
}

impl Unit {
    /// The word for `n` of it: "1 click", "2 clicks", "0.5 turn".
    pub fn word(&self, n: Num) -> &str {
        if n.abs() <= Num::int(1) && n != Num::ZERO {
            self.one.as_deref().unwrap_or(&self.symbol)
        } else {
            self.many.as_deref().unwrap_or(&self.symbol)
        }
    }
}

/// All units.
#[derive(Debug, Clone, Deserialize)]
pub struct Units {
    #[allow(dead_code, reason = "each data file states its form")]
    format: u32,
    #[serde(rename = "unit")]
    all: Vec<Unit>,
}

impl Units {
    /// The unit written `symbol`.
    pub fn get(&self, symbol: &str) -> Option<&Unit> {
        self.all.iter().find(|u| u.symbol == symbol)
    }

    /// The unit a person means by `text` where `stored` is expected; `None` when it is no unit of that quantity.
    pub fn meant(&self, text: &str, stored: &str) -> Option<&Unit> {
        let quantity = &self.get(stored)?.quantity;
        self.all
            .iter()
            .filter(|u| &u.quantity == quantity)
            .find(|u| u.symbol == text || u.says.iter().any(|s| s == text))
            .or_else(|| {
                let lower = text.to_lowercase();
                self.all.iter().filter(|u| &u.quantity == quantity).find(|u| u.symbol.to_lowercase() == lower)
            })
    }

    /// Every unit that is typed `text`, of any quantity.
    pub fn typed(&self, text: &str) -> impl Iterator<Item = &Unit> {
        let text = text.to_owned();
        self.all.iter().filter(move |u| u.symbol == text || u.says.contains(&text))
    }

    /// `value` in `from`, carried to the stored unit of its quantity; conversions are kept to four decimals.
    pub fn to_stored(&self, value: Num, from: &Unit) -> Option<Num> {
        if from.factor == 1.0 && from.offset == 0.0 {
            return Some(value);
        }
        Some(Num::from_f64(value.to_f64() * from.factor + from.offset)?.round(4))
    }

    /// `stored` shown in `to`, for display only.
    pub fn from_stored(&self, stored: Num, to: &Unit) -> Option<Num> {
        Num::from_f64((stored.to_f64() - to.offset) / to.factor)
    }

    /// Metric thread pitch in mm is the reciprocal of threads per inch: `tpi = 25.4 / pitch`.
    pub fn tpi_of_pitch_mm(pitch: Num) -> Option<Num> {
        (pitch > Num::ZERO).then(|| Num::from_f64(25.4 / pitch.to_f64()))?.map(|n| n.round(3))
    }

    /// Symbols a value of the stored unit `stored` may carry.
    pub fn symbols_for(&self, stored: &str) -> Vec<&str> {
        let Some(unit) = self.get(stored) else { return Vec::new() };
        self.all.iter().filter(|u| u.quantity == unit.quantity).map(|u| u.symbol.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::schema;
    use super::*;

    /// NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 kPa; 1 lbf/in = 0.1751268 N/mm; 1 gal = 3.785412 L;
    /// 1 ft-lbf = 1.355818 N.m; 1 mile = 1.609344 km.
    #[test]
    fn conversions_agree_with_nist_sp_811() {
        let units = &schema().units;
        for (symbol, per_stored) in [
            ("mm", 25.4),
            ("bar", 0.06894757),
            ("kPa", 6.894757),
            ("N/mm", 0.1751268),
            ("L", 3.785412),
            ("N.m", 1.355818),
            ("kg", 0.4535924),
            ("km/h", 1.609344),
        ] {
            let factor = 1.0 / units.get(symbol).unwrap().factor;
            assert!((factor / per_stored - 1.0).abs() < 3e-7, "{symbol}: {factor} for {per_stored}");
        }
    }

    proptest::proptest! {
        #[test]
        fn there_and_back(micros in 0_i64..50_000_000) {
            let units = &schema().units;
            for symbol in ["mm", "bar", "kg", "degC", "N/mm", "hPa"] {
                let unit = units.get(symbol).unwrap();
                let stored = Num::from_micros(micros).round(3);
                let shown = units.from_stored(stored, unit).unwrap();
                let back = units.to_stored(shown, unit).unwrap();
                proptest::prop_assert!((back - stored).abs() <= Num::from_micros(100), "{symbol} {stored} {back}");
            }
        }
    }
}
