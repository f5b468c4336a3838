//! What a text may give away: phone numbers, and the names of people that are on record; and taking them out.

use super::phone::{BETWEEN, phones};
use std::collections::BTreeSet;
use std::ops::Range;

/// What stands where a phone number was.
const NUMBER_LEFT_OUT: &str = "(number left out)";

/// What stands where a name was that is on record nowhere else.
pub const SOMEONE: &str = "someone";

/// What stands where a mail address was.
const ADDRESS_LEFT_OUT: &str = "(address left out)";

/// What stands where a text was that only what was left out has.
pub const LEFT_OUT: &str = "(left out)";

/// Takes names and phone numbers out of texts.
#[derive(Debug, Clone, Default)]
pub struct Scrub {
    /// Names with what stands for each: words of their own, however their letters are written.
    pub names: Vec<(String, String)>,
    /// Words of full names with what stands for each: only as they are written there, for "Mark" is a word as well.
    pub parts: Vec<(String, String)>,
    /// Phone numbers too.
    pub phones: bool,
    /// Texts of what was left out, which go where somebody repeats them.
    pub texts: Vec<String>,
}

impl Scrub {
    /// The text without them.
    pub fn text(&self, text: &str) -> String {
        let mut out = text.to_owned();
        if self.phones {
            for range in phones(text).into_iter().rev() {
                out.replace_range(range, NUMBER_LEFT_OUT);
            }
        }
        if !self.names.is_empty() {
            for range in addresses(&out).into_iter().rev() {
                out.replace_range(range, ADDRESS_LEFT_OUT);
            }
        }
        // All names go before anything stands for one: a hand may be called Hand.
        let known = || self.names.iter().map(|n| (n, false)).chain(self.parts.iter().map(|n| (n, true)));
        for (i, ((name, _), exact)) in known().enumerate().filter(|(_, ((n, _), _))| is_enough(n)) {
            out = replaced(&out, name, &token(i).to_string(), exact);
        }
        for (i, ((_, instead), _)) in known().enumerate() {
            out = out.replace(token(i), instead);
        }
        self.texts.iter().fold(out, |out, text| replaced(&out, text, LEFT_OUT, false))
    }

    /// Whether a name or a mail address is in a text, beside what stands for one.
    pub fn has_name(&self, text: &str) -> bool {
        if self.names.is_empty() {
            return false;
        }
        let words = [SOMEONE, LEFT_OUT, NUMBER_LEFT_OUT, ADDRESS_LEFT_OUT];
        let stands = self.names.iter().map(|(_, instead)| instead.as_str()).chain(words);
        let bare = stands.fold(text.to_owned(), |text, stands| text.replace(stands, "|"));
        let part = |n: &String| replaced(&bare, n, "", true) != bare;
        self.names.iter().any(|(n, _)| is_enough(n) && is_named(&bare, n))
            || self.parts.iter().any(|(n, _)| part(n))
            || !addresses(&bare).is_empty()
    }

    /// Takes anything out of texts.
    pub fn is_nothing(&self) -> bool {
        !self.phones && self.names.is_empty() && self.texts.is_empty()
    }

    /// The sentence of a record, which is cut where it is long: what is left of a name or a number there goes too.
    pub fn sentence(&self, text: &str) -> String {
        let mut text = text.trim_end();
        if text.len() > MAY_BE_CUT {
            let begun = |t: &str| {
                let parts = self.names.iter().flat_map(|(n, _)| n.char_indices().skip(2).map(move |(i, _)| &n[..i]));
                parts.filter(|p| !p.ends_with(' ')).filter_map(|p| ends_in(t, p)).min()
            };
            let digits = |c: char| c.is_ascii_digit() || BETWEEN.contains(&c);
            let number = text.trim_end_matches(digits).len();
            let whole = phones(text).iter().any(|r| r.end == text.len());
            if self.phones && text[number..].contains(|c: char| c.is_ascii_digit()) && !whole {
                text = &text[..number];
            }
            text = begun(text).map_or(text, |at| text[..at].trim_end());
        }
        self.text(text)
    }

    /// What stands for a person.
    pub fn person(&self, name: &str) -> String {
        let own = self.names.iter().find(|(n, _)| n.to_lowercase() == name.trim().to_lowercase());
        match own {
            Some((_, instead)) => instead.clone(),
            None if self.names.is_empty() => self.text(name),
            // Where names stay here, one that was not met before stays too.
            None => SOMEONE.to_owned(),
        }
    }
}

/// A sentence that is shorter was not cut, in bytes: 72 at most, cut between words.
const MAY_BE_CUT: usize = 56;

/// A character of nobody's script, for the time a name is out and nothing stands for it yet.
fn token(i: usize) -> char {
    u32::try_from(i).ok().and_then(|i| char::from_u32(0xf_0000 + i)).unwrap_or('\u{ffffd}')
}

/// Where the last word, or words, of a text begin, if they are these.
fn ends_in(text: &str, words: &str) -> Option<usize> {
    let at = text.len().checked_sub(words.len()).filter(|at| text.is_char_boundary(*at))?;
    let alone = text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric());
    (alone && text[at..].eq_ignore_ascii_case(words)).then_some(at)
}

/// A single letter is a word too often.
fn is_enough(name: &str) -> bool {
    name.chars().count() > 1
}

/// Where mail addresses stand in a text: a name, an `@`, and a host with a dot in it (RFC 5322, in its plain form).
pub fn addresses(text: &str) -> Vec<Range<usize>> {
    let of_name = |c: char| c.is_alphanumeric() || "._%+-".contains(c);
    let of_host = |c: char| c.is_alphanumeric() || ".-".contains(c);
    let mut found: Vec<Range<usize>> = Vec::new();
    for (at, _) in text.match_indices('@') {
        let name = text[..at].trim_end_matches(of_name).len();
        let host = text[at + 1..].trim_start_matches(of_host);
        let end = at + 1 + text[at + 1..text.len() - host.len()].trim_end_matches(['.', '-']).len();
        let dotted = text[at + 1..end].find('.').is_some_and(|dot| dot > 0);
        if name < at && dotted && found.last().is_none_or(|f| f.end <= name) {
            found.push(name..end);
        }
    }
    found
}

/// The text with a name replaced wherever it is a word of its own; however its letters are written, or as it is.
fn replaced(text: &str, name: &str, instead: &str, exact: bool) -> String {
    let (letters, wanted): (Vec<char>, Vec<char>) = (text.chars().collect(), name.chars().collect());
    let lower = |c: char| c.to_lowercase().next().unwrap_or(c);
    let part = |c: Option<&char>| c.is_some_and(|c| c.is_alphanumeric() || *c == '_');
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while at < letters.len() {
        let is = letters[at..].len() >= wanted.len()
            && letters[at..].iter().zip(&wanted).all(|(a, b)| a == b || !exact && lower(*a) == lower(*b))
            && !(at > 0 && part(letters.get(at - 1)))
            && !part(letters.get(at + wanted.len()));
        if is && !wanted.is_empty() {
            out.push_str(instead);
            at += wanted.len();
        } else {
            out.push(letters[at]);
            at += 1;
        }
    }
    out
}

/// Whether a name stands in a text as a word of its own, however its letters are written.
pub fn is_named(text: &str, name: &str) -> bool {
    replaced(text, name, "", false) != text
}

/// Names as they are looked for in texts: longest first, so that a full name goes before its first word.
pub fn in_order(names: &BTreeSet<String>) -> Vec<String> {
    let mut out: Vec<String> = names.iter().filter(|n| *n != "unknown").cloned().collect();
    out.sort_by_key(|n| (std::cmp::Reverse(n.chars().count()), n.clone()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_as_words_and_numbers_with_them() {
        let scrub = Scrub {
            names: vec![("Ro Marsh".into(), "first owner".into()), ("Ro".into(), "first owner".into())],
            parts: vec![("Marsh".into(), "first owner".into())],
            phones: true,
            texts: vec!["iron head".into()],
        };
        assert_eq!(scrub.text("Marsh drove through the marsh"), "first owner drove through the marsh");
        assert!(scrub.has_name("Marsh") && !scrub.has_name("the marsh, first owner's"));
        assert_eq!(scrub.text("mail ro.m+x@shop.example.org."), "mail (address left out).");
        for no in ["12 @ 34.5", "at@home", "@x.y", "a@.b", "@SUM(A1.B)"] {
            assert!(addresses(no).is_empty() && !scrub.has_name(no), "{no}");
        }
        assert_eq!(scrub.text("the Iron Head came back"), "the (left out) came back");
        // Where the sentence of a record may have been cut, so may be what stands at its end.
        let long = "notes reading \"a long one that goes on and on and then, call ";
        for cut in ["Ro Mar", "Ro Marsh", "Ro", "555 013", "(555)"] {
            let said = scrub.sentence(&format!("{long}{cut}"));
            assert!(said == long.trim_end() || said == format!("{long}first owner"), "{cut}: {said}");
        }
        let hands = [("Hand", "hand 2"), ("Tam", "hand 1")].map(|(n, i)| (n.to_owned(), i.to_owned()));
        let hands = Scrub { names: hands.into(), ..Scrub::default() };
        assert_eq!(hands.text("tam by hand"), "hand 1 by hand 2");
        assert!(!hands.has_name("hand 1 by hand 2") && hands.has_name("hand 1 by hand"));
        assert_eq!(scrub.sentence("shim 3 -> 4"), "shim 3 -> 4");
        assert_eq!(
            scrub.text("ro said: Roller bearings. RO MARSH, 555-013-0142; Ro's shop"),
            "first owner said: Roller bearings. first owner, (number left out); first owner's shop"
        );
        assert_eq!(scrub.person(" ro "), "first owner");
        // Where names stay here, one not met before stays too; where none does, all go out as they are.
        assert_eq!(scrub.person("Pell"), "someone");
        assert_eq!(Scrub::default().person("Pell"), "Pell");
        let phones = Scrub { phones: true, ..Scrub::default() };
        assert_eq!(phones.person("Pell 555-013-0142"), "Pell (number left out)");
    }
}
