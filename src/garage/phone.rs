//! Phone numbers in texts: where they stand, and whether the digits of one are there in any form.

use crate::text::{Folded, plain};
use std::collections::BTreeSet;
use std::ops::Range;

/// What stands between the groups of a number, folded.
const BETWEEN: [char; 7] = [' ', '-', '.', '(', ')', '/', '\u{2014}'];

/// Distances that stand side by side in notes, ft.
const TRACK_MARKS: [&str; 4] = ["330", "660", "1000", "1320"];

/// Units behind a number of four digits, or of three and four decimals: that one is measured.
const MEASURED_IN: [&str; 10] = ["rpm", "lb", "lbs", "ft", "psi", "mph", "hp", "kg", "mm", "pounds"];

/// Words behind which seven digits are to be called.
const CALLED_BY: &str = "call calls called phone tel telephone cell text mobile sms handy fax";

/// What may stand between such a word and its number.
const FILLERS: [&str; 11] = ["me", "us", "him", "her", "them", "at", "on", "no", "nr", "number", "is"];

/// Links that a number ends.
const LINKS: [&str; 4] = ["tel:", "sms:", "callto:", "phone="];

/// A group of digits with what stands between it and the one before.
struct Digits {
    range: Range<usize>,
    /// `None` where they are too far apart to be one number.
    between: Option<String>,
}

/// Where phone numbers stand in a text.
///
/// Read with digits of all scripts as one, and all dashes and blanks. Taken for one: ten digits, as 3-3-4, with or without
/// a 1 before them, or in one piece not beginning with 0 or 1, or as eleven behind a 1 (E.164 and the North American plan
/// write them so); 3-4 with a dash, a dot or a blank, where it is no row of numbers, no pair of marks of the track and has
/// no unit; eight to fifteen digits behind a `+` (E.164), or nine and more behind a 00 (ITU-T E.123); nine to twelve behind
/// a 0 that begins a group of three or more, or five pairs; eleven behind an 8 or 7 as 1-3-3-2-2 or 1-3-7, in brackets or
/// where a 9 follows; ten to fifteen, not beginning with 0, that are all of the path of a link (place.example/15550130142);
/// seven to fifteen in a link to call or write to (`tel:`, `sms:`), or right behind a word for it (call, tel, text).
/// Splits, dates, times, ids, serial numbers and weights are none of these.
pub fn phones(text: &str) -> Vec<Range<usize>> {
    let folded = Folded::of(text, plain);
    phones_in(&folded.text).into_iter().map(|r| folded.source(r)).collect()
}

fn phones_in(text: &str) -> Vec<Range<usize>> {
    let groups = groups(text);
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut at = 0;
    while at < groups.len() {
        match phone_at(text, &groups, at) {
            Some(n) => {
                found.push(opened(text, groups[at].range.start)..groups[at + n - 1].range.end);
                at += n;
            }
            None => at += 1,
        }
    }
    found
}

/// Where a number begins with the signs before its first digit.
fn opened(text: &str, start: usize) -> usize {
    let open = text[..start].ends_with(['+', '(']);
    let wider = text[..start - usize::from(open)].ends_with('+') && open;
    start - usize::from(open) - usize::from(wider)
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
    let start = groups[at].range.start;
    let lead = &text[..start];
    let before = lead.chars().next_back();
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
    let sum = |l: &[usize]| l.iter().sum::<usize>();
    let links = |l: &&str| {
        let name = lead.len().checked_sub(l.len()).filter(|i| lead.is_char_boundary(*i));
        name.is_some_and(|i| lead[i..].eq_ignore_ascii_case(l) && !lead[..i].ends_with(char::is_alphanumeric))
    };
    if LINKS.iter().any(links) {
        return (1..=7).rev().find(|n| lengths(*n).is_some_and(|l| (7..=15).contains(&sum(&l))));
    }
    let first = &text[groups[at].range.clone()];
    if (10..=15).contains(&first.len()) && !first.starts_with('0') && lengths(1).is_some() && is_path(lead) {
        return Some(1);
    }
    // Part of a longer number, a word, an id, a decimal.
    if before.is_some_and(|c| c.is_alphanumeric() || "-./_:,".contains(c)) {
        return None;
    }
    if before == Some('+') {
        // As many groups as make a number.
        return (1..=7)
            .rev()
            .find(|n| lengths(*n).is_some_and(|l| (8..=15).contains(&sum(&l)) && (*n == 1 || l[0] <= 4)));
    }
    let betweens = |n: usize| {
        let behind = groups.get(at + 1..at + n).unwrap_or_default();
        behind.iter().map(|g| g.between.as_deref().unwrap_or_default())
    };
    let second = groups.get(at + 1).map_or("", |g| &text[g.range.clone()]);
    if lengths(4).is_some_and(|l| l == [1, 3, 3, 4]) && first == "1" {
        return Some(4);
    }
    if matches!(first, "7" | "8") {
        let shaped = |n: &usize| {
            let bracketed = betweens(*n).any(|b| b.contains(['(', ')', '-']));
            lengths(*n).is_some_and(|l| matches!(l[..], [1, 3, 3, 2, 2] | [1, 3, 7]))
                && (bracketed || second.starts_with('9'))
        };
        if let Some(n) = [5, 3].into_iter().find(shaped) {
            return Some(n);
        }
    }
    let mark = |g: &Digits| TRACK_MARKS.contains(&&text[g.range.clone()]);
    if lengths(3).is_some_and(|l| l == [3, 3, 4]) && !groups[at..at + 3].iter().all(mark) {
        return Some(3);
    }
    if lengths(2).is_some_and(|l| l == [3, 4]) {
        let end = groups[at + 1].range.end;
        let dashed = betweens(2).all(|t| t.chars().all(|c| matches!(c, '-' | '\u{2014}')));
        let in_row = groups[at].between.is_some() || groups.get(at + 2).is_some_and(|g| g.between.is_some());
        let marks = TRACK_MARKS.contains(&first) && TRACK_MARKS.contains(&second);
        let after = text[end..].trim_start().to_lowercase();
        let word: String = after.chars().take_while(|c| c.is_alphanumeric()).collect();
        // "down 200 (3800 -> 3600)", "640/7200" are none.
        let plain = betweens(2).all(|t| !t.contains(['(', ')', '/']));
        if dashed || plain && !(in_row || marks || MEASURED_IN.contains(&word.as_str())) {
            return Some(2);
        }
    }
    let plan = |digits: &str| digits.len() == 11 && digits.starts_with('1') && !digits[1..].starts_with(['0', '1']);
    let long = first.len() == 10 && !first.starts_with(['0', '1'])
        || plan(first) && !first[4..].starts_with(['0', '1'])
        || first.len() == 11 && (first.starts_with("89") || first.starts_with("79"));
    if lengths(1).is_some() && long {
        return Some(1);
    }
    if first.starts_with('0')
        && let Some(n) = (1..=7).rev().find(|n| {
            lengths(*n).is_some_and(|l| {
                let joined: String = groups[at..at + n].iter().map(|g| &text[g.range.clone()]).collect();
                let abroad = joined.starts_with("00") && !joined[2..].starts_with('0');
                let one = betweens(*n).next().unwrap_or_default();
                let same = betweens(*n).all(|b| b == one);
                // A point with a blank ends a sentence.
                let dots = betweens(*n).all(|b| b == "." || !b.contains('.'));
                let row = groups[at].between.is_some() || groups.get(at + 5).is_some_and(|g| g.between.is_some());
                let pairs = l == [2; 5] && same && !abroad && !row;
                let trunk = (9..=12).contains(&sum(&l)) && l[0] >= 3 && l[1..].iter().all(|n| *n >= 2);
                dots && (abroad && l[0] >= 2 && (11..=17).contains(&sum(&l)) || pairs || trunk)
            })
        })
    {
        return Some(n);
    }
    match called(lead) {
        Called::Here => (1..=6).rev().find(|n| {
            lengths(*n).is_some_and(|l| (7..=12).contains(&sum(&l)) && l.iter().all(|n| *n >= 2))
                && betweens(*n).all(|b| b == "." || !b.contains('.'))
        }),
        Called::Near if first.len() == 7 => lengths(1).map(|_| 1),
        _ => None,
    }
}

/// Whether what stands before a number is a link to a place, up to its path: `https://place.example/`.
fn is_path(lead: &str) -> bool {
    let Some(place) = lead.strip_suffix('/') else { return false };
    let name = place.rsplit(|c: char| !(c.is_alphanumeric() || "-.".contains(c))).next().unwrap_or_default();
    let deeper = place[..place.len() - name.len()].strip_suffix('/').is_some_and(|before| !before.ends_with(":/"));
    let last = name.rsplit_once('.').map_or("", |(_, last)| last);
    !deeper && last.chars().count() > 1 && last.chars().all(char::is_alphabetic)
}

/// Whether a word for calling stands before a number.
enum Called {
    /// Right before it.
    Here,
    /// With a word or two between: "call Pell at".
    Near,
    No,
}

fn called(lead: &str) -> Called {
    let sentence = lead.rsplit(['\n', ';', '!', '?', '"']).next().unwrap_or_default();
    let mut between = Vec::new();
    for word in sentence.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).rev().take(4) {
        let word = word.to_lowercase();
        if CALLED_BY.split(' ').any(|w| w == word) {
            return match between.iter().filter(|w: &&String| !FILLERS.contains(&w.as_str())).count() {
                0 => Called::Here,
                1 | 2 => Called::Near,
                _ => Called::No,
            };
        }
        between.push(word);
    }
    Called::No
}

/// The digits of a phone number.
pub fn digits_of(number: &str) -> String {
    Folded::of(number, plain).text.chars().filter(char::is_ascii_digit).collect()
}

/// Where the digits of known numbers stand in a text, whatever stands between their groups.
pub fn known(text: &str, numbers: &BTreeSet<String>) -> Vec<Range<usize>> {
    let folded = Folded::of(text, plain);
    let text = &folded.text;
    let groups = groups(text);
    let glued = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let (mut found, mut at) = (Vec::new(), 0);
    while at < groups.len() {
        let start = groups[at].range.start;
        let mut run = String::new();
        let mut taken = None;
        for (n, group) in groups[at..].iter().enumerate() {
            if n > 0 && group.between.is_none() || run.len() > 17 || glued(text[..start].chars().next_back()) {
                break;
            }
            run.push_str(&text[group.range.clone()]);
            if numbers.contains(&run) && !glued(text[group.range.end..].chars().next()) {
                taken = Some((n + 1, group.range.end));
            }
        }
        if let Some((_, end)) = taken {
            found.push(folded.source(opened(text, start)..end));
        }
        at += taken.map_or(1, |(n, _)| n);
    }
    found
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
            ("ring 00380441234567", "00380441234567"),
            ("00 49 170 123 45 67", "00 49 170 123 45 67"),
            ("b 0170.123.45.67", "0170.123.45.67"),
            ("Pell 01 23 45 67 89.", "01 23 45 67 89"),
            ("01.23.45.67.89", "01.23.45.67.89"),
            ("8 (912) 345-67-89", "8 (912) 345-67-89"),
            ("8 912 345 67 89", "8 912 345 67 89"),
            ("8(912)3456789", "8(912)3456789"),
            ("89123456789", "89123456789"),
            ("15554567890", "15554567890"),
            ("call 5551234", "5551234"),
            ("Cell: 5551234, evenings", "5551234"),
            ("call Pell at 5551234", "5551234"),
            ("text me on 555 12 34", "555 12 34"),
            ("chat.example/15551234567", "15551234567"),
            ("https://chat.example/445550123456?text=hi", "445550123456"),
            ("<https://m.chat.example/+445550123456>", "+445550123456"),
            ("sms:5551234", "5551234"),
            ("<tel:+1-555-123-4567>", "+1-555-123-4567"),
            ("tel:5551234", "5551234"),
            ("555\u{2014}123\u{2014}4567", "555\u{2014}123\u{2014}4567"),
            ("Pell\u{2014}555-123-4567\u{2014}evenings", "555-123-4567"),
            (
                "\u{ff15}\u{ff15}\u{ff15}-\u{ff11}\u{ff12}\u{ff13}-\u{ff14}\u{ff15}\u{ff16}\u{ff17} x",
                "\u{ff15}\u{ff15}\u{ff15}-\u{ff11}\u{ff12}\u{ff13}-\u{ff14}\u{ff15}\u{ff16}\u{ff17}",
            ),
            (
                "\u{660}\u{661}\u{667}\u{660} \u{661}\u{662}\u{663}\u{664}\u{665}\u{666}\u{667}",
                "\u{660}\u{661}\u{667}\u{660} \u{661}\u{662}\u{663}\u{664}\u{665}\u{666}\u{667}",
            ),
            ("555\u{200b}-123-4567", "555\u{200b}-123-4567"),
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
            "01 23",
            "01 23 45 67",
            "04 05 06 07 08 09 10",
            "09:25 10:40 11:55",
            "01 05 26, 09 40",
            "05.16.26 09.40",
            "2026 05 16 09 40",
            "5551234",
            "serial 5551234",
            "casting no 3970010",
            "block 0012345",
            "serial 10093861720",
            "1780000000000",
            "8 640 655 70 71",
            "8 660 330 60 60",
            "the call was 7.388 at 94.17",
            "call it 1.671, 4.797",
            "330\u{2014}660",
            "https://parts.example/20260516",
            "parts.example/cam/12345678901, parts.example/12345678901/cam",
            "12.5/12345678901, left/12345678901",
        ] {
            assert_eq!(found(text), Vec::<&str>::new(), "{text}");
        }
    }

    #[test]
    fn the_digits_of_a_number_are_found_however_it_is_written() {
        let numbers = BTreeSet::from(["5550142277".to_owned(), "5550144".to_owned()]);
        for (text, number) in [
            ("555.014.2277", "555.014.2277"),
            ("call (555) 014-2277", "(555) 014-2277"),
            ("5550142277,", "5550142277"),
            ("55 50 14 22 77", "55 50 14 22 77"),
            ("Pell 5550144 late", "5550144"),
            ("\u{ff15}550144", "\u{ff15}550144"),
        ] {
            let found: Vec<&str> = known(text, &numbers).into_iter().map(|r| &text[r]).collect();
            assert_eq!(found, [number], "{text}");
        }
        for text in ["15550142277", "a5550142277", "555, 014, 2277", "55501422770", "555-014"] {
            assert!(known(text, &numbers).is_empty(), "{text}");
        }
    }
}
