//! What a text may give away: phone numbers, and the names of people that are on record; and taking them out.

use super::named::{digit, is_plain, is_small, key_in, name_in, named, without_blanks, words_in};
use super::phone::{known, phones};
use crate::text::{Folded, ascii_digit, letters};
use std::collections::BTreeSet;
use std::ops::Range;

/// What stands where a phone number was.
const NUMBER_LEFT_OUT: &str = "(number left out)";

/// What stands where a name was that is on record nowhere else.
pub const SOMEONE: &str = "someone";

/// The hand of a record where nobody said whose it is.
pub const NOBODY_KNOWN: &str = "unknown";

/// What stands where a mail address was.
const ADDRESS_LEFT_OUT: &str = "(address left out)";

/// What stands where a text was that only what was left out has.
pub const LEFT_OUT: &str = "(left out)";

/// Takes names and phone numbers out of texts.
#[derive(Debug, Clone, Default)]
pub struct Scrub {
    /// People and mail addresses are left out, whether or not a name is on record.
    pub people: bool,
    /// Names and the words of full ones, longest first, with what stands for each: words of their own, whatever the case and
    /// the marks of their letters. One that is a plain word too counts only where it begins with a large letter.
    pub names: Vec<(String, String)>,
    /// Phone numbers too.
    pub phones: bool,
    /// The digits of those that are known: they go however they are written.
    pub numbers: BTreeSet<String>,
    /// Texts of what was left out, which go where somebody repeats them.
    pub texts: Vec<String>,
    /// Keys of fields and of their slots: a name that is a word of one stays in it, for the key is what they are found by.
    pub keys: Vec<String>,
}

impl Scrub {
    /// The text without them.
    pub fn text(&self, text: &str) -> String {
        let mut found: Vec<(Range<usize>, &str)> = Vec::new();
        // What comes first stands for what it shares with another; the rest of that goes as well.
        let mut put = |range: Range<usize>, instead| {
            let touches = |f: &(Range<usize>, &str)| f.0.start < range.end && range.start < f.0.end;
            match found.iter_mut().find(|f| touches(f)) {
                Some((held, _)) => *held = held.start.min(range.start)..held.end.max(range.end),
                None => found.push((range, instead)),
            }
        };
        self.numbers_in(text).into_iter().for_each(|r| put(r, NUMBER_LEFT_OUT));
        if self.people {
            addresses(text).into_iter().for_each(|r| put(r, ADDRESS_LEFT_OUT));
        }
        let folded = Folded::of(text, letters);
        for (name, instead) in &self.names {
            for (range, owned) in self.named(text, &folded, name) {
                put(range.start..owned.start, instead);
                if !owned.is_empty() {
                    put(owned, "'s");
                }
            }
        }
        for value in &self.texts {
            words_in(&folded, value).into_iter().for_each(|r| put(r, LEFT_OUT));
        }
        found.sort_by_key(|(range, _)| range.start);
        let (mut out, mut at) = (String::with_capacity(text.len()), 0);
        for (range, instead) in found {
            // Widened ones may touch.
            out.push_str(text.get(at..range.start).unwrap_or_default());
            out.push_str(instead);
            at = at.max(range.end);
            // Of "pell2": what stands for the name ends in a number of its own.
            if instead.ends_with(digit) && text[at..].starts_with(digit) {
                out.push(' ');
            }
        }
        out + &text[at..]
    }

    /// Where a name stands in a text outside keys, with an `s` at its end, and where that is.
    fn named(&self, text: &str, folded: &Folded, name: &str) -> Vec<(Range<usize>, Range<usize>)> {
        let mut found = named(text, folded, name);
        if !found.is_empty() {
            let keys: Vec<Range<usize>> = self.keys.iter().flat_map(|k| key_in(text, k)).collect();
            found.retain(|(r, _)| !keys.iter().any(|k| k.start <= r.start && r.end <= k.end));
        }
        found
    }

    /// Where phone numbers stand in a text, those that are known in any form.
    pub fn numbers_in(&self, text: &str) -> Vec<Range<usize>> {
        if !self.phones {
            return Vec::new();
        }
        let mut out = known(text, &self.numbers);
        out.extend(phones(text));
        out
    }

    /// Whether a name or a mail address is in a text, beside keys and what stands for one.
    pub fn has_name(&self, text: &str) -> bool {
        self.has(text, &|bare, folded, name| !self.named(bare, folded, name).is_empty())
    }

    /// The same in what a thing is called, which a key may be.
    pub fn has_name_of_all(&self, text: &str) -> bool {
        self.has(text, &|bare, folded, name| !named(bare, folded, name).is_empty())
    }

    /// The names that are plain words and are written small in a text, as these are: they stay.
    pub fn stays_small(&self, text: &str) -> Vec<String> {
        let folded = Folded::of(text, letters);
        let plain = self.names.iter().map(|(n, _)| Folded::of(n.trim(), letters).text).filter(|n| is_plain(n));
        plain.filter(|n| name_in(&folded, n).into_iter().any(|r| is_small(text, &r))).collect()
    }

    fn has(&self, text: &str, is_in: &dyn Fn(&str, &Folded, &str) -> bool) -> bool {
        if !self.people {
            return false;
        }
        let words = [SOMEONE, LEFT_OUT, NUMBER_LEFT_OUT, ADDRESS_LEFT_OUT];
        let stands = self.names.iter().map(|(_, instead)| instead.as_str()).chain(words);
        let bare = stands.fold(text.to_owned(), |text, stands| text.replace(stands, "|"));
        let folded = Folded::of(&bare, letters);
        self.names.iter().any(|(n, _)| is_in(&bare, &folded, n)) || !addresses(&bare).is_empty()
    }

    /// Takes anything out of texts.
    pub fn is_nothing(&self) -> bool {
        !self.phones && !self.people && self.texts.is_empty()
    }

    /// The sentence of a record, which is cut where it is long: what is left of a name or a number there goes too.
    pub fn sentence(&self, text: &str) -> String {
        let whole = text.trim_end();
        if whole.len() <= MAY_BE_CUT {
            return self.text(whole);
        }
        // What the program puts behind a sentence that it cut.
        let (mut text, mark) = whole.split_at(before_mark(whole));
        let digit = |c: char| ascii_digit(c).is_some();
        let number = text.trim_end_matches(|c: char| digit(c) || !c.is_alphanumeric()).len();
        let at_end = self.numbers_in(text).iter().any(|r| r.end == text.len());
        if self.phones && text[number..].contains(digit) && !at_end {
            text = &text[..number];
        }
        // A single letter is a word too often, but for one behind which the sentence was cut.
        let least = if mark.is_empty() { 2 } else { 1 };
        let folded = Folded::of(text, letters);
        let names = self.names.iter().map(|(name, _)| Folded::of(name.trim(), letters).text);
        let cut_at = names.filter_map(|name| begun(&folded, &name, least)).min();
        text = cut_at.map_or(text, |at| text[..at].trim_end());
        self.text(text) + &self.text(mark)
    }

    /// What stands for a person.
    pub fn person(&self, name: &str) -> String {
        let own = self.names.iter().find(|(n, _)| n.to_lowercase() == name.trim().to_lowercase());
        match own {
            Some((_, instead)) => instead.clone(),
            None if !self.people => self.text(name),
            None if name == NOBODY_KNOWN => name.to_owned(),
            // Where names stay here, one that was not met before stays too.
            None => SOMEONE.to_owned(),
        }
    }
}

/// A sentence that is shorter was not cut, in bytes. One that is cut has 72 characters at most, and is cut between words, but
/// for a long word, and by earlier versions of this program anywhere.
const MAY_BE_CUT: usize = 56;

/// Where what the program puts behind a sentence that it cut begins: `...`, or `..., 2 more`, which may be cut as well.
fn before_mark(text: &str) -> usize {
    let more = |rest: &str| {
        let count = rest.trim_start_matches([',', ' ']).trim_start_matches(|c: char| c.is_ascii_digit());
        " more".starts_with(count)
    };
    match text.rfind("...") {
        Some(at) if more(&text[at + 3..]) => text[..at].trim_end_matches('.').len(),
        _ => text.trim_end_matches('.').len(),
    }
}

/// Where the last word, or words, of a text begin, if a name begins with them.
fn begun(text: &Folded, name: &str, least: usize) -> Option<usize> {
    let starts = name.char_indices().map(|(i, _)| &name[..i]).skip(least).filter(|start| !start.ends_with(' '));
    let ends = starts.filter_map(|start| {
        let at = text.text.strip_suffix(start)?.len();
        let alone = text.text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() || without_blanks(c));
        alone.then(|| text.source(at..text.text.len()).start)
    });
    ends.min()
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

/// Names as they are looked for in texts: longest first, so that a full name goes before its first word.
pub fn in_order(names: &BTreeSet<String>) -> Vec<String> {
    let mut out: Vec<String> = names.iter().filter(|n| *n != NOBODY_KNOWN).cloned().collect();
    out.sort_by_key(|n| (std::cmp::Reverse(n.chars().count()), n.clone()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_goes_whatever_its_letters_and_a_plain_word_stays_one() {
        let names = ["M\u{fc}ller, Hans-Peter", "M\u{fc}ller", "Peter", "Jos\u{e9}", "\u{d1}and\u{fa}", "Will", "Pell"];
        let names = names.map(|n| (n.to_owned(), "owner 1".to_owned())).into();
        let scrub = Scrub { people: true, names, ..Scrub::default() };
        for gone in [
            "M\u{dc}LLER",
            "m\u{fc}ller",
            "Muller",
            "JOS\u{c9}",
            "jose",
            "Jose\u{301}",
            "\u{f1}and\u{fa}",
            "NANDU",
            "PETER",
            "Will",
            "WILL",
            "m\u{fc}ller, hans-peter",
            "pell",
        ] {
            assert_eq!(scrub.text(&format!("ask {gone}, he")), "ask owner 1, he", "{gone}");
            assert!(scrub.has_name(gone), "{gone}");
        }
        for gone in ["M\u{fc}llers", "m\u{fc}ller's", "PELLS", "Will's"] {
            assert_eq!(scrub.text(&format!("{gone} car")).to_lowercase(), "owner 1's car", "{gone}");
        }
        assert_eq!(scrub.text("jos\u{e9}\u{2019}s shop"), "owner 1\u{2019}s shop");
        // Of two letters too, but for words of the trade where they are written small.
        let names = ["Al", "An", "Jo"].map(|n| (n.to_owned(), "hand 2".to_owned())).into();
        let two = Scrub { people: true, names, ..Scrub::default() };
        assert_eq!(
            two.text("Al said, jo's an hour late; JO, An"),
            "hand 2 said, hand 2's an hour late; hand 2, hand 2"
        );
        assert_eq!(two.text("Als idea"), "hand 2's idea");
        for stays in ["alloy", "also", "an hour", "join", "jos", "Josh"] {
            assert_eq!(two.text(stays), stays);
        }
        for stays in ["it will hook", "will's", "M\u{fc}llerei", "pellet", "petered out", "joseph", "freewill"] {
            assert_eq!(scrub.text(stays), stays);
            assert!(!scrub.has_name(stays), "{stays}");
        }
    }

    #[test]
    fn a_name_ends_at_an_underscore_or_a_digit_but_in_no_key_and_no_id() {
        let names = ["Pell", "Ed", "Will", "crew1"].map(|n| (n.to_owned(), "hand 1".to_owned())).into();
        let keys = vec!["own.pell_shim".to_owned(), "own.pell pad".to_owned()];
        let scrub = Scrub { people: true, names, keys, ..Scrub::default() };
        for (said, left) in [
            ("Pell_setup by pell2", "hand 1_setup by hand 1 2"),
            ("the_pell, 2PELL, pells_way", "the_hand 1, 2hand 1, hand 1's_way"),
            ("ed_notes, crew1_x", "hand 1_notes, hand 1_x"),
            ("{own.pell_shim} > own.pell_shim.left", "{own.pell_shim} > own.pell_shim.left"),
            ("own.pell pad and own.pell_pad", "own.pell pad and own.hand 1_pad"),
            ("run 3ed91b2c, crew12, spelled, will_hook, used4", "run 3ed91b2c, crew12, spelled, will_hook, used4"),
        ] {
            assert_eq!(scrub.text(said), left);
            assert!(!scrub.has_name(left), "{left}");
            assert_eq!(scrub.has_name(said), said != left, "{said}");
        }
        assert!(scrub.has_name_of_all("own.pell_shim") && !scrub.has_name_of_all("own.spelled"));
        assert_eq!(scrub.stays_small("it will hook, says ed"), ["will"]);
        assert!(scrub.stays_small("Will, willing").is_empty());
    }

    #[test]
    fn names_go_as_words_and_numbers_with_them() {
        let scrub = Scrub {
            people: true,
            names: ["Ro Marsh", "Marsh", "Ro"].map(|n| (n.to_owned(), "first owner".to_owned())).into(),
            phones: true,
            numbers: BTreeSet::from(["5551234".to_owned()]),
            texts: vec!["iron head".into()],
            ..Scrub::default()
        };
        assert_eq!(scrub.text("Marsh drove, marsh won"), "first owner drove, first owner won");
        assert!(scrub.has_name("Marsh") && !scrub.has_name("the marshes, first owner's"));
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
        // And where the program cut it in a word and said so, at whatever letter, the name in whatever letters.
        for name in ["Quillfeatherstone", "Jos\u{e9} Nu\u{f1}ez", "Anna van der Brook"] {
            let names = vec![(name.to_owned(), "hand 1".to_owned())];
            let scrub = Scrub { people: true, names, ..Scrub::default() };
            for mark in ["...", "..., 2 more", "..., 12 mo", "...,", "..", "."] {
                for (typed, end) in [name.to_owned(), name.to_uppercase()]
                    .iter()
                    .flat_map(|typed| typed.char_indices().skip(1).map(move |(end, _)| (typed, end)))
                    .filter(|(typed, end)| !typed[..*end].ends_with(' '))
                {
                    let said = scrub.sentence(&format!("{long}{}{mark}", &typed[..end]));
                    assert_eq!(said, format!("{}{mark}", long.trim_end()), "{}", &typed[..end]);
                }
                assert_eq!(scrub.sentence(&format!("{long}{name}{mark}")), format!("{long}hand 1{mark}"));
            }
        }
        let hands = [("Hand", "hand 2"), ("Tam", "hand 1")].map(|(n, i)| (n.to_owned(), i.to_owned()));
        let hands = Scrub { people: true, names: hands.into(), ..Scrub::default() };
        assert_eq!(hands.text("tam by Hand"), "hand 1 by hand 2");
        assert!(!hands.has_name("hand 1 by hand 2") && hands.has_name("hand 1 by Hand"));
        assert_eq!(scrub.sentence("shim 3 -> 4"), "shim 3 -> 4");
        assert_eq!(
            scrub.text("ro said: Roller bearings. RO MARSH, 555-013-0142; Ro's shop"),
            "first owner said: Roller bearings. first owner, (number left out); first owner's shop"
        );
        assert_eq!(scrub.person(" ro "), "first owner");
        assert_eq!(scrub.text("at 5551234, or 55.51.234"), "at (number left out), or (number left out)");
        // Where names stay here, one not met before stays too; where none does, all go out as they are.
        assert_eq!(scrub.person("Pell"), "someone");
        assert_eq!(Scrub::default().person("Pell"), "Pell");
        let phones = Scrub { phones: true, ..Scrub::default() };
        assert_eq!(phones.person("Pell 555-013-0142"), "Pell (number left out)");
    }
}
