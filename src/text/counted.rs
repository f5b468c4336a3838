//! How many of what.

/// `1 run`, `3 runs`.
pub fn counted(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}
