//! Version numbers: given in the order of writing, never moved; people write them on tape.

use std::fmt;
use std::str::FromStr;

/// `v17`; a version put in late after v21 is `v21a`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct VersionNumber {
    /// The number.
    pub n: u32,
    /// Letters behind it, for one put in late.
    pub suffix: String,
}

impl VersionNumber {
    /// A plain number.
    pub fn plain(n: u32) -> VersionNumber {
        VersionNumber { n, suffix: String::new() }
    }
}

/// Numbers that were given once and are never given again, whatever became of their versions.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Given {
    /// The highest plain number.
    pub highest: u32,
    /// Those with letters.
    pub late: Vec<VersionNumber>,
}

impl Given {
    /// Takes note of a number.
    pub fn note(&mut self, number: &VersionNumber) {
        self.highest = self.highest.max(number.n);
        if !number.suffix.is_empty() && !self.late.contains(number) {
            self.late.push(number.clone());
        }
    }

    /// The next plain number.
    pub fn next(&self) -> VersionNumber {
        VersionNumber::plain(self.highest + 1)
    }

    /// The next free number beside `neighbour`: v21a, v21b, ... v21z, v21za, ...
    pub fn beside(&self, neighbour: &VersionNumber) -> VersionNumber {
        let taken = |s: &str| self.late.iter().any(|v| v.n == neighbour.n && v.suffix == s);
        let mut stem = String::new();
        loop {
            for letter in 'a'..='z' {
                let suffix = format!("{stem}{letter}");
                if !taken(&suffix) {
                    return VersionNumber { n: neighbour.n, suffix };
                }
            }
            stem.push('z');
        }
    }

    /// The number of a version that gives one up to another laptop's: a plain one goes on from b, so that the letters of
    /// late ones stay clear; one with a letter takes the next free.
    pub fn instead_of(&self, number: &VersionNumber) -> VersionNumber {
        let mut letters = self.clone();
        if number.suffix.is_empty() {
            letters.note(&VersionNumber { n: number.n, suffix: "a".to_owned() });
        }
        letters.beside(number)
    }

    /// As one line of a record: `v23 v21a`.
    pub fn to_line(&self) -> String {
        let mut all = vec![VersionNumber::plain(self.highest).to_string()];
        all.extend(self.late.iter().map(ToString::to_string));
        all.join(" ")
    }

    /// Adds those of such a line.
    pub fn note_line(&mut self, line: &str) {
        line.split(' ').filter_map(|w| w.parse().ok()).for_each(|n| self.note(&n));
    }
}

impl fmt::Display for VersionNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "v{}{}", self.n, self.suffix)
    }
}

impl FromStr for VersionNumber {
    type Err = ();

    fn from_str(text: &str) -> Result<VersionNumber, ()> {
        let rest = text.trim().strip_prefix(['v', 'V']).ok_or(())?;
        let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        let (n, suffix) = rest.split_at(digits);
        if n.is_empty() || n.len() > 7 || suffix.len() > 16 || !suffix.bytes().all(|b| b.is_ascii_lowercase()) {
            return Err(());
        }
        Ok(VersionNumber { n: n.parse().map_err(|_| ())?, suffix: suffix.to_owned() })
    }
}

impl serde::Serialize for VersionNumber {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for VersionNumber {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<VersionNumber, D::Error> {
        let text = <String as serde::Deserialize>::deserialize(d)?;
        text.parse().map_err(|()| serde::de::Error::custom("no version number"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_is_given_twice() {
        let mut given = Given::default();
        given.note_line("v23 v21a v21c");
        assert_eq!(given.next().to_string(), "v24");
        assert_eq!(given.beside(&VersionNumber::plain(21)).to_string(), "v21b");
        assert_eq!(given.beside(&"v21a".parse().unwrap()).to_string(), "v21b");
        ('a'..='z').for_each(|c| given.note(&format!("v3{c}").parse().unwrap()));
        assert_eq!(given.beside(&VersionNumber::plain(3)).to_string(), "v3za");
        let mut joined = Given::default();
        joined.note_line("v22");
        assert_eq!(joined.instead_of(&VersionNumber::plain(22)).to_string(), "v22b");
        joined.note_line("v22a v22b");
        assert_eq!(joined.instead_of(&VersionNumber::plain(22)).to_string(), "v22c");
        assert_eq!(joined.instead_of(&"v22a".parse().unwrap()).to_string(), "v22c");
        let mut again = Given::default();
        again.note_line(&given.to_line());
        assert_eq!(again, given);
    }

    #[test]
    fn written_and_read() {
        for text in ["v1", "v21a", "v1204"] {
            assert_eq!(text.parse::<VersionNumber>().unwrap().to_string(), text);
        }
        for text in ["", "v", "17", "va", "v1A", "v99999999", "v1-2"] {
            assert!(text.parse::<VersionNumber>().is_err(), "{text}");
        }
        assert!("v21a".parse::<VersionNumber>() > "v21".parse());
    }
}
