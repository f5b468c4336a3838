//! "Did you mean": the nearest names to one that is not there.

/// Up to `n` of `names` nearest to `typed`, best first; names too far off are left out.
pub fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>, n: usize) -> Vec<&'a str> {
    // Bounded: the typed text may come from a file.
    let typed: String = typed.to_lowercase().chars().take(64).collect();
    let last = typed.rsplit('.').next().unwrap_or(&typed);
    let mut scored: Vec<(usize, &str)> = names
        .filter_map(|name| {
            let tail = name.rsplit('.').next().unwrap_or(name);
            // The last part alone counts for less when a whole key was typed.
            let alone = if typed.contains('.') { 3 } else { 1 };
            let d = strsim::osa_distance(&typed, name).min(strsim::osa_distance(last, tail) + alone);
            let inside = last.len() > 2 && (name.contains(last) || last.contains(tail) && tail.len() > 3);
            let d = if inside { d.min(2) } else { d };
            (d <= 1 + typed.len() / 3).then_some((d, name))
        })
        .collect();
    scored.sort_by_key(|(d, name)| (*d, name.len()));
    scored.into_iter().take(n).map(|(_, name)| name).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typing_error_finds_its_name() {
        let names = ["rear.limiter.height", "rear.limiter.gap", "front.height", "launch.rpm"];
        assert_eq!(nearest("rear.limitr.height", names.into_iter(), 1), ["rear.limiter.height"]);
        assert_eq!(nearest("hieght", names.into_iter(), 2), ["front.height", "rear.limiter.height"]);
        assert!(nearest("zzzzzz", names.into_iter(), 3).is_empty());
    }
}
