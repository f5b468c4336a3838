//! A name as part of a path, the same on every system.

use super::latin::latin;

/// The longest part that is made, about, in bytes.
const LONGEST: usize = 40;

/// Names that are devices on some systems: a file of that name, with whatever ending, could not be made there.
/// Windows' list ("Naming Files, Paths, and Namespaces"), the digits above the line among it.
pub fn is_device(stem: &str) -> bool {
    let stem = stem.to_lowercase();
    let numbered = stem.strip_prefix("com").or_else(|| stem.strip_prefix("lpt"));
    let mut digit = numbered.unwrap_or_default().chars();
    matches!(stem.as_str(), "con" | "prn" | "aux" | "nul" | "conin$" | "conout$")
        || matches!((digit.next(), digit.next()), (Some('0'..='9' | '\u{b9}' | '\u{b2}' | '\u{b3}'), None))
}

/// A name as part of a path: small Latin letters, digits and dashes. What has no letter or digit is `otherwise`.
///
/// Cyrillic and Greek are written in Latin letters. Of a name with other letters a number made from the whole of it
/// stands behind what could be written, so that two of them are two.
pub fn slug(name: &str, otherwise: &str) -> String {
    let name = name.trim().to_lowercase();
    let mut out = String::new();
    let mut left_out = false;
    for c in name.chars() {
        match latin(c) {
            Some(letters) => out.push_str(letters),
            None if c.is_ascii_alphanumeric() => out.push(c),
            // A mark upon the letter before it.
            None if ('\u{300}'..='\u{36f}').contains(&c) => {}
            None if c.is_alphanumeric() => left_out = true,
            None if out.is_empty() || out.ends_with('-') => {}
            None => out.push('-'),
        }
        if out.len() >= LONGEST {
            break;
        }
    }
    let mut out = out.trim_end_matches('-').to_owned();
    if out.is_empty() {
        otherwise.clone_into(&mut out);
    }
    if left_out {
        out.push_str(&format!("-{:04x}", number(&name)));
    }
    if is_device(&out) { format!("{out}-{otherwise}") } else { out }
}

/// FNV-1a of 32 bits (Fowler, Noll, Vo), folded to 16.
fn number(text: &str) -> u16 {
    let hash = text.bytes().fold(0x811c_9dc5_u32, |hash, b| (hash ^ u32::from(b)).wrapping_mul(0x0100_0193));
    (hash >> 16) as u16 ^ hash as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_in_any_letters_becomes_a_part_of_a_path() {
        for (name, is) in [
            ("Osier Flats", "osier-flats"),
            (" ../..//x ", "x"),
            ("\u{1b}[31m", "31m"),
            ("…", "car"),
            ("Café Žlutá", "cafe-zluta"),
            ("Cafe\u{301}", "cafe"),
            ("Ласточка", "lastochka"),
            ("Буря №2", "buria-2"),
            ("Χελιδόνι", "chelidoni"),
        ] {
            assert_eq!(slug(name, "car"), is, "{name}");
        }
        let all: Vec<String> =
            ["隼", "鷹", "はやぶさ", "Ветер 隼", "Ветер 鷹", "צפור"].map(|n| slug(n, "car")).to_vec();
        assert!(all[..3].iter().all(|s| s.starts_with("car-") && s.len() == 8), "{all:?}");
        assert!(all[3].starts_with("veter-") && all[4].starts_with("veter-"), "{all:?}");
        let different: std::collections::HashSet<&String> = all.iter().collect();
        assert_eq!(different.len(), all.len(), "{all:?}");
        assert_eq!(slug("隼", "car"), all[0], "the same each time");
        assert!(slug(&"щ".repeat(500), "car").len() < 50);
    }

    #[test]
    fn what_is_a_device_somewhere_is_no_name_of_a_file() {
        for name in ["con", "PRN", "aux", "nul", "com0", "COM1", "lpt9", "com\u{b9}", "conin$"] {
            assert!(is_device(name), "{name}");
        }
        for name in ["comb", "com10", "com", "console", "lpt", "nulls", "x"] {
            assert!(!is_device(name), "{name}");
        }
        assert_eq!((slug("Con", "car"), slug("COM 1", "car")), ("con-car".to_owned(), "com-1".to_owned()));
        assert_eq!(slug("lpt1", "trial"), "lpt1-trial");
    }
}
