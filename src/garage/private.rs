//! What a text may give away: phone numbers, and the names of people that are on record; and taking them out.

use std::collections::BTreeSet;
use std::ops::Range;

/// What stands where a phone number was.
const NUMBER_LEFT_OUT: &str = "(number left out)";

/// What stands where a name was that is on record nowhere else.
pub const SOMEONE: &str = "someone";

/// What stands where a text was that only what was left out has.
pub const LEFT_OUT: &str = "(left out)";

/// What stands between the groups of a number.
const BETWEEN: [char; 9] = [' ', '-', '.', '(', ')', '/', '\u{a0}', '\u{2011}', '\u{2013}'];

/// The dashes of it.
const DASHES: [char; 3] = ['-', '\u{2011}', '\u{2013}'];

/// Distances that stand side by side in notes, ft.
const TRACK_MARKS: [&str; 4] = ["330", "660", "1000", "1320"];

/// Units behind a number of four digits, or of three and four decimals: that one is measured.
const MEASURED_IN: [&str; 10] = ["rpm", "lb", "lbs", "ft", "psi", "mph", "hp", "kg", "mm", "pounds"];

/// A group of digits with what stands between it and the one before.
struct Digits {
    range: Range<usize>,
    /// `None` where they are too far apart to be one number.
    between: Option<String>,
}

/// Where phone numbers stand in a text.
///
/// Taken for one: ten digits, as 3-3-4, with or without a 1 before them, or in one piece not beginning with 0 or 1
/// (E.164 and the North American plan write them so); 3-4 with a dash, a dot or a blank, where it is no row of numbers, no
/// pair of marks of the track and has no unit; eight to fifteen digits behind a `+` (E.164); nine to twelve behind a 0 that
/// begins a group of three or more. Splits, dates, ids and weights are none of these.
pub fn phones(text: &str) -> Vec<Range<usize>> {
    let groups = groups(text);
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut at = 0;
    while at < groups.len() {
        match phone_at(text, &groups, at) {
            Some(n) => {
                let start = groups[at].range.start;
                let open = text[..start].ends_with(['+', '(']);
                let wider = text[..start - usize::from(open)].ends_with('+') && open;
                found.push(start - usize::from(open) - usize::from(wider)..groups[at + n - 1].range.end);
                at += n;
            }
            None => at += 1,
        }
    }
    found
}

/// The digits in a text, group by group.
fn groups(text: &str) -> Vec<Digits> {
    let mut out: Vec<Digits> = Vec::new();
    let mut chars = text.char_indices().peekable();
    while let Some((start, c)) = chars.next() {
        if !c.is_ascii_digit() {
            continue;
        }
        let mut end = start + 1;
        while let Some((i, _)) = chars.next_if(|(_, c)| c.is_ascii_digit()) {
            end = i + 1;
        }
        let between = out.last().map(|last| &text[last.range.end..start]);
        let near = |t: &str| (1..=3).contains(&t.chars().count()) && t.chars().all(|c| BETWEEN.contains(&c));
        out.push(Digits { range: start..end, between: between.filter(|t| near(t)).map(str::to_owned) });
    }
    out
}

/// How many groups from there are a phone number.
fn phone_at(text: &str, groups: &[Digits], at: usize) -> Option<usize> {
    let before = text[..groups[at].range.start].chars().next_back();
    // Part of a longer number, a word, an id, a decimal.
    let glued = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || "-./_:,".contains(c));
    if glued(before) {
        return None;
    }
    let free_after = |n: usize| {
        let mut rest = text[groups[at + n - 1].range.end..].chars();
        match rest.next() {
            // The end of a sentence is no decimal point.
            Some('.' | ',') => !rest.next().is_some_and(|c| c.is_ascii_digit()),
            Some('-' | '/' | ':' | '_') => false,
            other => !other.is_some_and(char::is_alphanumeric),
        }
    };
    let lengths = |n: usize| -> Option<Vec<usize>> {
        let all = groups.get(at..at + n)?;
        let joined = all[1..].iter().all(|g| g.between.is_some());
        (joined && free_after(n)).then(|| all.iter().map(|g| g.range.len()).collect())
    };
    let first = &text[groups[at].range.clone()];
    if before == Some('+') {
        // As many groups as make a number.
        return (1..=7).rev().find(|n| {
            lengths(*n).is_some_and(|l| (8..=15).contains(&l.iter().sum::<usize>()) && (*n == 1 || l[0] <= 4))
        });
    }
    if lengths(4).is_some_and(|l| l == [1, 3, 3, 4]) && first == "1" {
        return Some(4);
    }
    let mark = |g: &Digits| TRACK_MARKS.contains(&&text[g.range.clone()]);
    if lengths(3).is_some_and(|l| l == [3, 3, 4]) && !groups[at..at + 3].iter().all(mark) {
        return Some(3);
    }
    if lengths(2).is_some_and(|l| l == [3, 4]) {
        let second = &groups[at + 1];
        let dashed = second.between.as_deref().is_some_and(|t| t.chars().all(|c| DASHES.contains(&c)));
        let in_row = groups[at].between.is_some() || groups.get(at + 2).is_some_and(|g| g.between.is_some());
        let marks = TRACK_MARKS.contains(&first) && TRACK_MARKS.contains(&&text[second.range.clone()]);
        let after = text[second.range.end..].trim_start().to_lowercase();
        let word: String = after.chars().take_while(|c| c.is_alphanumeric()).collect();
        // "down 200 (3800 -> 3600)", "640/7200" are none.
        let plain = second.between.as_deref().is_some_and(|t| !t.contains(['(', ')', '/']));
        if dashed || plain && !(in_row || marks || MEASURED_IN.contains(&word.as_str())) {
            return Some(2);
        }
    }
    if lengths(1).is_some_and(|l| l == [10]) && !first.starts_with(['0', '1']) {
        return Some(1);
    }
    let trunk = |n: &usize| {
        lengths(*n).is_some_and(|l| {
            let plain = groups[at + 1..at + n].iter().all(|g| !g.between.as_deref().unwrap_or_default().contains('.'));
            plain && (9..=12).contains(&l.iter().sum::<usize>()) && l[0] >= 3 && l[1..].iter().all(|n| *n >= 2)
        })
    };
    if first.starts_with('0') {
        return (1..=5).rev().find(trunk);
    }
    None
}

/// Takes names and phone numbers out of texts.
#[derive(Debug, Clone, Default)]
pub struct Scrub {
    /// Names with what stands for each.
    pub names: Vec<(String, String)>,
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
        // A single letter is a word too often. All names go before anything stands for one: a hand may be called Hand.
        for (i, (name, _)) in self.names.iter().enumerate().filter(|(_, (n, _))| n.chars().count() > 1) {
            out = without_name(&out, name, &token(i).to_string());
        }
        for (i, (_, instead)) in self.names.iter().enumerate() {
            out = out.replace(token(i), instead);
        }
        self.texts.iter().fold(out, |out, text| without_name(&out, text, LEFT_OUT))
    }

    /// Whether a name is in a text, beside what stands for one.
    pub fn has_name(&self, text: &str) -> bool {
        let stands = self.names.iter().map(|(_, instead)| instead.as_str()).chain([SOMEONE, LEFT_OUT, NUMBER_LEFT_OUT]);
        let bare = stands.fold(text.to_owned(), |text, stands| text.replace(stands, "|"));
        self.names.iter().any(|(n, _)| n.chars().count() > 1 && is_named(&bare, n))
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

/// The text with a name replaced wherever it is a word of its own, however its letters are written.
fn without_name(text: &str, name: &str, instead: &str) -> String {
    let (letters, wanted): (Vec<char>, Vec<char>) = (text.chars().collect(), name.chars().collect());
    let lower = |c: char| c.to_lowercase().next().unwrap_or(c);
    let part = |c: Option<&char>| c.is_some_and(|c| c.is_alphanumeric() || *c == '_');
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while at < letters.len() {
        let is = letters[at..].len() >= wanted.len()
            && letters[at..].iter().zip(&wanted).all(|(a, b)| lower(*a) == lower(*b))
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
    without_name(text, name, "") != text
}

/// The digits of a phone number.
pub fn digits_of(number: &str) -> String {
    number.chars().filter(char::is_ascii_digit).collect()
}

/// Whether the digits of a number stand in a text, whatever stands between their groups.
pub fn has_digits(text: &str, number: &str) -> bool {
    let groups = groups(text);
    let glued = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    (0..groups.len()).any(|at| {
        if glued(text[..groups[at].range.start].chars().next_back()) {
            return false;
        }
        let mut run = String::new();
        for (n, group) in groups[at..].iter().enumerate() {
            if n > 0 && group.between.is_none() {
                return false;
            }
            run.push_str(&text[group.range.clone()]);
            if !number.starts_with(&run) {
                return false;
            }
            if run == number {
                return !glued(text[group.range.end..].chars().next());
            }
        }
        false
    })
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

    fn found(text: &str) -> Vec<&str> {
        phones(text).into_iter().map(|r| &text[r]).collect()
    }

    #[test]
    fn phone_numbers_are_found() {
        for (text, number) in [
            ("call 555-013-0142.", "555-013-0142"),
            ("Pell (555) 013-0142, evenings", "(555) 013-0142"),
            ("1-555-013-0142", "1-555-013-0142"),
            ("555.013.0142", "555.013.0142"),
            ("5550130142", "5550130142"),
            ("ask at 013-0142", "013-0142"),
            ("Pell 555.0143.", "555.0143"),
            ("Pell 555 0144, evenings", "555 0144"),
            ("notes reading \"Call Pell 555-014-2277\"", "555-014-2277"),
            ("Pell 555\u{2013}014\u{2013}2277", "555\u{2013}014\u{2013}2277"),
            ("Pell 555 - 014 - 2277", "555 - 014 - 2277"),
            ("+1 555 013 0142", "+1 555 013 0142"),
            ("+4955501301429", "+4955501301429"),
            ("0555 0130142", "0555 0130142"),
            ("note = \"shop: 0555/013014\"", "0555/013014"),
        ] {
            assert_eq!(found(text), [number], "{text}");
        }
    }

    #[test]
    fn numbers_of_a_book_are_no_phone_numbers() {
        for text in [
            "at = 2026-05-16T09:40:00-05:00",
            "Since: 2026-05-16T09:40:00-05:00",
            "1.671 4.797 7.388 94.17 9.634 11.576 116.46",
            "0.050 1.671 4.797 7.388",
            "corner = [640, 655, 702, 710]",
            "corners 640 655 702 710",
            "640/655/702/710",
            "2026-04-04 09:25",
            "5/16/2026",
            "setup = \"0123456789012345678901234567890123456789\"",
            "Run: 12345678",
            "author Ro <ro@localhost> 1780000000 -0500",
            "28 x 9-15",
            "v12, v13 and v14",
            "660 ft 7.388, 1320 ft 11.576",
            "rpm 5500 6400 7000",
            "beams 60 330 660 1000 1320",
            "660 1320",
            "640 7200 rpm",
            "12 640 7200",
            "launch rpm down 200 (3800 -> 3600)",
            "640/7200",
            "640.1234 lb",
        ] {
            assert_eq!(found(text), Vec::<&str>::new(), "{text}");
        }
    }

    #[test]
    fn the_digits_of_a_number_are_found_however_it_is_written() {
        for text in ["555.014.2277", "call (555) 014-2277", "5550142277,", "555 0142277"] {
            assert!(has_digits(text, "5550142277"), "{text}");
        }
        for text in ["15550142277", "a5550142277", "555, 014, 2277", "55501422770", "555-014"] {
            assert!(!has_digits(text, "5550142277"), "{text}");
        }
    }

    #[test]
    fn names_go_as_words_and_numbers_with_them() {
        let scrub = Scrub {
            names: vec![("Ro Marsh".into(), "first owner".into()), ("Ro".into(), "first owner".into())],
            phones: true,
            texts: vec!["iron head".into()],
        };
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
