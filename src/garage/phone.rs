//! Phone numbers in texts: where they stand, and whether the digits of one are there in any form.

use std::ops::Range;

/// What stands between the groups of a number.
pub(super) const BETWEEN: [char; 9] = [' ', '-', '.', '(', ')', '/', '\u{a0}', '\u{2011}', '\u{2013}'];

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
}
