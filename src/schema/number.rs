//! Exact decimal numbers: what a hand reads off a tape, a gauge or a slip.

use std::fmt;

/// A decimal number kept exactly in millionths, so that `0.75 - 0.25` is `0.50` and equal values are equal.
///
/// Invariant: always finite; magnitude at most 9.2e12.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Num(i64);

const SCALE: i64 = 1_000_000;

impl Num {
    /// Zero.
    pub const ZERO: Num = Num(0);

    /// The number in millionths.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// From millionths.
    pub const fn from_micros(micros: i64) -> Num {
        Num(micros)
    }

    /// A whole number.
    pub const fn int(n: i32) -> Num {
        Num(n as i64 * SCALE)
    }

    /// Rounded to the nearest millionth; `None` when not finite or beyond 1e12.
    pub fn from_f64(x: f64) -> Option<Num> {
        (x.is_finite() && x.abs() < 1e12).then(|| Num((x * SCALE as f64).round() as i64))
    }

    /// As a float, for arithmetic that is not exact anyway.
    pub fn to_f64(self) -> f64 {
        self.0 as f64 / SCALE as f64
    }

    /// Rounded half away from zero to `decimals` (at most 6).
    pub fn round(self, decimals: u32) -> Num {
        let unit = 10_i64.pow(6 - decimals.min(6));
        let half = unit / 2 * self.0.signum();
        Num((self.0 + half) / unit * unit)
    }

    /// Without its sign.
    pub fn abs(self) -> Num {
        Num(self.0.abs())
    }

    /// True for a number without a fraction.
    pub fn is_int(self) -> bool {
        self.0 % SCALE == 0
    }

    /// Reads `0.75`, `.75`, `-3`, `+2`, `1/4`, `1-1/8`, `1 1/8`. `None` when it is not such a number.
    pub fn parse(text: &str) -> Option<Num> {
        let t = text.trim();
        // No number a hand types is longer; a file's text is not searched further.
        if t.len() > 48 {
            return None;
        }
        if let Some((whole, part)) = t.split_once(['-', ' ']).filter(|(w, _)| !w.is_empty()) {
            if !part.contains('/') || whole.contains('/') || part.trim().contains([' ', '-']) {
                return None;
            }
            let w = Num::parse(whole).filter(|n| n.is_int())?;
            let f = Num::parse(part.trim()).filter(|f| f.0 >= 0 && f.0 < SCALE)?;
            return Some(w + f);
        }
        if let Some((a, b)) = t.split_once('/') {
            let (a, b) = (Num::parse_plain(a)?, Num::parse_plain(b)?);
            if b.0 <= 0 || !a.is_int() || !b.is_int() || b.0 > 1000 * SCALE {
                return None;
            }
            return Num::from_f64(a.0 as f64 / b.0 as f64);
        }
        Num::parse_plain(t)
    }

    fn parse_plain(t: &str) -> Option<Num> {
        let (neg, digits) = match t.strip_prefix(['-', '+']) {
            Some(rest) => (t.starts_with('-'), rest),
            None => (false, t),
        };
        let (int, frac) = digits.split_once('.').unwrap_or((digits, ""));
        if (int.is_empty() && frac.is_empty())
            || int.len() > 12
            || frac.len() > 12
            || !int.bytes().chain(frac.bytes()).all(|b| b.is_ascii_digit())
        {
            return None;
        }
        let whole: i64 = if int.is_empty() { 0 } else { int.parse().ok()? };
        let mut part: i64 = 0;
        for i in 0..6 {
            part = part * 10 + frac.as_bytes().get(i).map_or(0, |b| i64::from(b - b'0'));
        }
        if frac.as_bytes().get(6).is_some_and(|b| *b >= b'5') {
            part += 1;
        }
        let micros = whole.checked_mul(SCALE)?.checked_add(part)?;
        Some(Num(if neg { -micros } else { micros }))
    }

    /// With at least `least` decimals and as many more as the value has, up to `most`.
    pub fn show(self, least: u32, most: u32) -> String {
        let rounded = self.round(most.max(least));
        let mut decimals = least;
        while decimals < most && rounded.0 % 10_i64.pow(6 - decimals) != 0 {
            decimals += 1;
        }
        rounded.fixed(decimals)
    }

    /// With exactly `decimals` decimals (at most 6).
    pub fn fixed(self, decimals: u32) -> String {
        let r = self.round(decimals).0;
        let sign = if r < 0 { "-" } else { "" };
        let (int, frac) = (r.unsigned_abs() / SCALE as u64, r.unsigned_abs() % SCALE as u64);
        match decimals.min(6) {
            0 => format!("{sign}{int}"),
            d => format!("{sign}{int}.{:0width$}", frac / 10_u64.pow(6 - d), width = d as usize),
        }
    }
}

impl std::ops::Add for Num {
    type Output = Num;
    fn add(self, other: Num) -> Num {
        Num(self.0.saturating_add(other.0))
    }
}

impl std::ops::Sub for Num {
    type Output = Num;
    fn sub(self, other: Num) -> Num {
        Num(self.0.saturating_sub(other.0))
    }
}

impl std::ops::Neg for Num {
    type Output = Num;
    fn neg(self) -> Num {
        Num(-self.0)
    }
}

impl fmt::Display for Num {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.show(0, 6))
    }
}

impl fmt::Debug for Num {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl serde::Serialize for Num {
    /// A whole number as an integer, else as a float; millionths where nobody reads it (caches).
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if !s.is_human_readable() {
            return s.serialize_i64(self.0);
        }
        if self.is_int() { s.serialize_i64(self.0 / SCALE) } else { s.serialize_f64(self.to_f64()) }
    }
}

impl<'de> serde::Deserialize<'de> for Num {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Num, D::Error> {
        if !d.is_human_readable() {
            return i64::deserialize(d).map(Num);
        }
        struct V;
        impl serde::de::Visitor<'_> for V {
            type Value = Num;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number")
            }
            fn visit_i64<E: serde::de::Error>(self, n: i64) -> Result<Num, E> {
                self.visit_f64(n as f64)
            }
            fn visit_u64<E: serde::de::Error>(self, n: u64) -> Result<Num, E> {
                self.visit_f64(n as f64)
            }
            fn visit_f64<E: serde::de::Error>(self, x: f64) -> Result<Num, E> {
                Num::from_f64(x).ok_or_else(|| E::custom("a number beyond 1e12, or not finite"))
            }
        }
        d.deserialize_any(V)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_a_racer_types() {
        for (text, micros) in [
            ("0.75", 750_000),
            (".5", 500_000),
            ("1/4", 250_000),
            ("1-1/8", 1_125_000),
            ("1 1/8", 1_125_000),
            ("-3", -3_000_000),
            ("+2", 2_000_000),
            ("1597", 1_597_000_000),
        ] {
            assert_eq!(Num::parse(text).map(Num::micros), Some(micros), "{text}");
        }
        for text in ["", ".", "abc", "1/0", "1//2", "1.5.2", "0x10", "1-2", "1/2/3", "nan", "1e3", "--1", "5-"] {
            assert_eq!(Num::parse(text), None, "{text}");
        }
    }

    #[test]
    fn shows_no_more_than_the_value_has() {
        assert_eq!(Num::parse("12").unwrap().show(1, 4), "12.0");
        assert_eq!(Num::parse("12.25").unwrap().show(1, 4), "12.25");
        assert_eq!(Num::parse("-0.004").unwrap().fixed(2), "0.00");
        assert_eq!(Num::parse("0.0625").unwrap().show(2, 4), "0.0625");
        assert_eq!(Num::parse("-3.5").unwrap().to_string(), "-3.5");
    }

    proptest::proptest! {
        #[test]
        fn shown_then_read_is_the_same(micros in -9_000_000_000_000_i64..9_000_000_000_000) {
            let n = Num::from_micros(micros);
            proptest::prop_assert_eq!(Num::parse(&n.to_string()), Some(n));
            proptest::prop_assert_eq!(Num::from_f64(n.to_f64()), Some(n));
        }
    }
}
