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
        if n.is_empty() || n.len() > 7 || suffix.len() > 4 || !suffix.bytes().all(|b| b.is_ascii_lowercase()) {
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
