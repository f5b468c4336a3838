//! How a record was mended on each side, and which of it gave way.

/// Something that was put right otherwise on each side, and which of the two gave way.
pub(super) struct GaveWay {
    /// The side whose word gave way.
    pub side: usize,
    /// What the sentence of its mend has in it.
    pub names: Vec<String>,
    /// What holds, in words.
    pub to: String,
}

/// The sentences of both sides, those that gave way with what they gave way to.
pub(super) fn told_so(old: &[Vec<String>], mut sides: [Vec<String>; 2], gave_way: &[GaveWay]) -> [Vec<String>; 2] {
    for GaveWay { side, names, to } in gave_way {
        let other = sides[1 - side].clone();
        let is_new = |s: &String| !other.contains(s) && !old.iter().any(|list| list.contains(s)) && !s.contains(BEFORE);
        let names: Vec<String> = names.iter().map(|n| n.to_lowercase()).collect();
        let of = |s: &String| names.iter().any(|n| s.to_lowercase().contains(n.as_str()));
        // The last word on it is the one that was weighed; where it has one alone, that.
        let new: Vec<usize> = (0..sides[*side].len()).filter(|i| is_new(&sides[*side][*i])).collect();
        let found = new.iter().rev().find(|i| of(&sides[*side][**i]));
        if let Some(i) = found.or(new.first().filter(|_| new.len() == 1)) {
            sides[*side][*i].push_str(&format!("{BEFORE}{to}"));
        }
    }
    sides
}

/// What stands before that which holds.
const BEFORE: &str = "; gave way to ";

/// Whether a sentence says of itself that it gave way.
pub(super) fn gave_way(sentence: &str) -> bool {
    sentence.contains(BEFORE.trim_start_matches(';')) || sentence.ends_with(" counts once")
}
