//! Where names, words and keys stand in a text, whatever the case and the marks of their letters.

use super::texts::is_hex;
use crate::text::{Folded, ascii_digit, letters};
use std::ops::Range;

/// Plain words, and words of the trade, that people are called as well: each one that notes on a car are written with.
///
/// Common practice, no source: left out wherever they stand, the notes would not be read any more. Where one stays because of
/// it, that is told.
const PLAIN_WORDS: [&str; 146] = [
    "an", "as", "at", "be", "by", "do", "go", "he", "hi", "if", "in", "is", "it", "me", "my", "no", "of", "ok", "on",
    "or", "so", "to", "up", "us", "we", "ft", "hp", "lb", "lf", "lr", "mm", "rf", "rr", "tq", "the", "and", "don",
    "will", "may", "mark", "rich", "bill", "rob", "art", "pat", "chip", "drew", "jack", "frank", "rod", "guy", "chase",
    "cliff", "clay", "rusty", "dusty", "sandy", "sunny", "rose", "lane", "miles", "dash", "bay", "cash", "chance",
    "hope", "nick", "reed", "ridge", "sky", "skip", "trip", "van", "west", "hand", "stone", "wood", "woods", "young",
    "long", "short", "black", "white", "green", "brown", "gray", "grey", "gold", "silver", "amber", "hill", "field",
    "fields", "park", "parks", "street", "bridge", "ball", "bell", "best", "bolt", "boost", "bush", "case", "cross",
    "day", "dawn", "early", "fast", "good", "hard", "head", "hood", "hook", "key", "launch", "light", "little", "love",
    "low", "page", "pace", "penny", "pole", "pool", "post", "power", "price", "pump", "rush", "sharp", "small",
    "spark", "sparks", "spring", "steel", "strong", "summer", "swift", "track", "water", "weeks", "winter", "april",
    "june", "august",
];

/// Where a word, or words, stand in a text as words of their own, whatever the case and the marks of their letters.
pub(super) fn words_in(text: &Folded, words: &str) -> Vec<Range<usize>> {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    let alone =
        |r: &Range<usize>| !part(text.text[..r.start].chars().next_back()) && !part(text.text[r.end..].chars().next());
    held(text, words).into_iter().filter(alone).map(|r| text.source(r)).collect()
}

/// The same for a name, which an underscore and a digit end as well; but not where it is letters of an id.
pub(super) fn name_in(text: &Folded, words: &str) -> Vec<Range<usize>> {
    let beside = |c: Option<char>, own: Option<char>| match (c, own) {
        (Some(c), Some(own)) if digit(c) => digit(own),
        (Some(c), _) => c.is_alphanumeric() && !without_blanks(c),
        (None, _) => false,
    };
    let alone = |r: &Range<usize>| {
        let (before, own, after) = (&text.text[..r.start], &text.text[r.clone()], &text.text[r.end..]);
        let outside =
            [(before.chars().next_back(), own.chars().next()), (after.chars().next(), own.chars().next_back())];
        let begin = before.trim_end_matches(|c: char| c.is_ascii_alphanumeric()).len();
        let end = text.text.len() - after.trim_start_matches(|c: char| c.is_ascii_alphanumeric()).len();
        !outside.into_iter().any(|(c, own)| beside(c, own)) && !is_id(&text.text[begin..end])
    };
    held(text, words).into_iter().filter(alone).map(|r| text.source(r)).collect()
}

/// A letter of a script whose words stand without blanks, or with endings written on: Thai, Lao, Burmese, Khmer (class SA of
/// UAX #14), Han, kana and Hangul (class ID and the like). A name ends beside one.
pub(super) fn without_blanks(c: char) -> bool {
    matches!(c, '\u{e00}'..='\u{eff}' | '\u{1000}'..='\u{109f}' | '\u{1100}'..='\u{11ff}' | '\u{1780}'..='\u{17ff}'
        | '\u{2e80}'..='\u{9fff}' | '\u{ac00}'..='\u{d7ff}' | '\u{f900}'..='\u{faff}' | '\u{ff66}'..='\u{ffdc}'
        | '\u{20000}'..='\u{3ffff}')
}

fn held(text: &Folded, words: &str) -> Vec<Range<usize>> {
    let wanted = Folded::of(words.trim(), letters).text;
    let found = text.text.match_indices(&wanted).filter(|_| !wanted.is_empty());
    found.map(|(at, _)| at..at + wanted.len()).collect()
}

/// The id of a run, a record, a file or a handover.
fn is_id(word: &str) -> bool {
    [8, 40, 64].into_iter().any(|digits| is_hex(word, digits)) && word.contains(digit)
}

pub(super) fn digit(c: char) -> bool {
    ascii_digit(c).is_some()
}

/// Where a key stands in a text, by itself or with what follows it behind a dot.
pub(super) fn key_in(text: &str, key: &str) -> Vec<Range<usize>> {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    let whole = |at: &usize| {
        let before = text[..*at].chars().next_back();
        !part(before) && before != Some('.') && !part(text[at + key.len()..].chars().next())
    };
    text.match_indices(key).map(|(at, _)| at).filter(whole).map(|at| at..at + key.len()).collect()
}

pub(super) fn is_plain(name: &str) -> bool {
    PLAIN_WORDS.contains(&name)
}

pub(super) fn is_small(text: &str, range: &Range<usize>) -> bool {
    text[range.clone()].starts_with(char::is_lowercase)
}

/// Whether a name is a single letter of ASCII, which is not looked for. One character of another script is a whole name in
/// some, and no word of a text that is not written in it.
pub(super) fn is_initial(name: &str) -> bool {
    name.trim().is_ascii() && name.chars().filter(|c| c.is_alphanumeric()).count() < 2
}

/// Whether a name, or a word of one, has several characters of a script without blanks: a part of it is not known as one.
pub(super) fn is_without_blanks(name: &str) -> bool {
    name.chars().zip(name.chars().skip(1)).any(|(a, b)| without_blanks(a) && without_blanks(b))
}

/// Where a name stands in a text, with an `s` at its end, and where that is.
pub(super) fn named(text: &str, folded: &Folded, name: &str) -> Vec<(Range<usize>, Range<usize>)> {
    let bare = Folded::of(name.trim(), letters).text;
    let length = bare.chars().count();
    let mut found = Vec::new();
    // A single letter is a word too often, and so are two with an s that are written small.
    if !is_initial(name) {
        found.extend(name_in(folded, &bare).into_iter().map(|r| (r.clone(), r.end..r.end)));
        // Of one letter, the marks upon it are all that makes it no word.
        let marked = |r: &Range<usize>| text[r.clone()].to_lowercase() == name.trim().to_lowercase();
        found.retain(|(r, _)| length > 1 || !bare.is_ascii() || marked(r));
    }
    if length > 1 || !bare.is_ascii() {
        let with_s = name_in(folded, &format!("{bare}s"));
        let last = |r: &Range<usize>| text[r.clone()].rfind(['s', 'S']).map_or(r.end, |i| r.start + i);
        let with_s = with_s.into_iter().filter(|r| length > 2 || !is_small(text, r));
        found.extend(with_s.map(|r| (r.clone(), last(&r)..r.end)));
    }
    found.retain(|(r, _)| !(is_plain(&bare) && is_small(text, r)));
    found
}

/// Whether a name stands in a text as a word of its own, whatever the case and the marks of its letters.
pub fn is_named(text: &str, name: &str) -> bool {
    !words_in(&Folded::of(text, letters), name).is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_of_one_character_is_found_unless_it_is_a_letter_of_ascii() {
        let found = |text: &str, name: &str| named(text, &Folded::of(text, letters), name).len();
        // Li; Li-san; as an owner of the word it is in; Zhe, alone and in a word; E with its mark and without.
        for (text, name, n) in [
            ("\u{674e} asked; \u{674e}\u{3055}\u{3093}", "\u{674e}", 2),
            ("\u{674e}\u{306e}\u{8eca}, \u{674e}s idea, \u{674e}'s", "\u{674e}", 3),
            ("\u{416} said, \u{436}\u{430}\u{440}", "\u{416}", 1),
            ("\u{c9} and e", "\u{c9}", 1),
            ("J said", "J", 0),
        ] {
            assert_eq!(found(text, name), n, "{name} in {text}");
        }
        assert!(is_initial("J.") && is_initial("\u{20}q") && !is_initial("\u{674e}") && !is_initial("Jo"));
        assert!(is_without_blanks("\u{674e}\u{4f1f}") && !is_without_blanks("\u{674e} Wei"));
    }

    #[test]
    fn a_name_ends_where_its_script_has_no_blanks() {
        let found = |text: &str, name: &str| named(text, &Folded::of(text, letters), name).len();
        // "Kenta-san drove", "Li Wei's car", "Kim Cheolsu-ga", "Khun Somchai drives", a Latin name before kana.
        for (text, name) in [
            ("\u{5065}\u{592a}\u{3055}\u{3093} drove", "\u{5065}\u{592a}"),
            ("\u{674e}\u{4f1f}\u{7684}\u{8f66}", "\u{674e}\u{4f1f}"),
            ("\u{ae40}\u{cca0}\u{c218}\u{ac00}", "\u{ae40}\u{cca0}\u{c218}"),
            (
                "\u{e04}\u{e38}\u{e13}\u{e2a}\u{e21}\u{e0a}\u{e32}\u{e22}\u{e02}\u{e31}\u{e1a}",
                "\u{e2a}\u{e21}\u{e0a}\u{e32}\u{e22}",
            ),
            ("Moe\u{3055}\u{3093}", "Moe"),
            ("Bos idea", "Bo"),
        ] {
            assert_eq!(found(text, name), 1, "{text}");
        }
        for (text, name) in [("the bos", "Bo"), ("Moen", "Moe"), ("\u{43c}\u{43e}\u{435}", "\u{43c}\u{43e}")] {
            assert_eq!(found(text, name), 0, "{text}");
        }
    }
}
