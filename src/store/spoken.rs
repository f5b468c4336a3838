//! A handover id as words: six of a list of 2,048, and a check word, to be said on the phone and typed as heard.
use std::str::FromStr;
use std::sync::LazyLock;

use super::ContentId;

/// The words, sorted, one a line. No two sound alike in the sense of [`sound`], no two are spelled alike from their
/// first vowel on, none is the beginning of another, so "honey comb" cannot be heard as two, and none becomes another
/// by one letter mistyped. They are plain nouns, verbs and adjectives of four to nine letters, put through those rules: one
/// that broke a rule gave way to another. The 2,048 are no published list's, though words as plain stand in many. The
/// first four letters may be shared: a word is said and typed whole.
const LIST: &str = include_str!("spoken_words.txt");

static WORDS: LazyLock<Vec<&'static str>> = LazyLock::new(|| LIST.lines().collect());

/// Words that carry the id.
const CARRY: usize = 6;

/// Bits of a word.
const BITS: usize = 11;

/// A handover id as it was said: its six words, checked by the seventh.
///
/// The six words hold the first 66 of the id's 256 bits. An honest slip (another file, an older one, a record added)
/// passes for the right one once in 7e19. The check word is computed from the six: one word misheard, or two
/// that changed places, are always found out, anything else 2,047 times of 2,048, before it can be taken for an
/// altered book. Against someone who makes a false book on purpose the six words are a hurdle, no proof. To meet the words
/// of a book that is there takes some 2^66 (7e19) tries, out of reach of a laptop, not of everybody. Whoever prepares both
/// books, the one that is shown and the one that is handed over, needs only some 2^33 (9e9) until two have the same words
/// (the birthday bound), which a laptop does. The full id is what proves it: there that takes 2^128.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spoken([u16; CARRY]);

/// Words that are no spoken id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotSpoken {
    /// A word is not of the list.
    #[error("`{word}` is none of the words of an id{}", near.map(|n| format!(" (did they say `{n}`?)")).unwrap_or_default())]
    Unknown {
        /// The word as it was typed.
        word: String,
        /// One of the list that sounds or is spelled like it.
        near: Option<&'static str>,
    },
    /// There are too few or too many.
    #[error("an id is six words and a check word, seven in all; {found} were given")]
    Count {
        /// How many there are.
        found: usize,
    },
    /// The check word does not go with the others.
    #[error("these words do not go together: one was misheard, or two changed places; have them said again")]
    Check,
}

impl Spoken {
    /// Whether these are the words of that id.
    pub fn is_of(&self, id: &ContentId) -> bool {
        self.0 == carried(id.as_bytes())
    }
}

impl FromStr for Spoken {
    type Err = NotSpoken;

    /// Reads seven words, large or small, with anything but letters between them.
    fn from_str(text: &str) -> Result<Spoken, NotSpoken> {
        let given: Vec<String> = text
            .split(|c: char| !c.is_alphabetic())
            .filter(|w| !w.is_empty())
            .take(CARRY + 20)
            .map(str::to_lowercase)
            .collect();
        let mut numbers = Vec::new();
        for word in &given {
            let unknown = || NotSpoken::Unknown { word: word.clone(), near: near(word) };
            numbers.push(WORDS.binary_search(&word.as_str()).map_err(|_| unknown())? as u16);
        }
        if numbers.len() != CARRY + 1 {
            return Err(NotSpoken::Count { found: numbers.len() });
        }
        let carry: [u16; CARRY] = std::array::from_fn(|n| numbers[n]);
        if check(&carry) == numbers[CARRY] { Ok(Spoken(carry)) } else { Err(NotSpoken::Check) }
    }
}

/// The words of an id. One id in some 340 has the same word twice in a row: it is kept, for any rule that leaves such ids
/// out would take the words from the id's own bits. It cannot be mistaken: a word said twice and heard once makes six
/// words, which are refused, and a pair heard where there is none is found out by the check word.
pub(super) fn words(id: &[u8; 32]) -> [&'static str; 7] {
    let carry = carried(id);
    let check = check(&carry);
    std::array::from_fn(|n| WORDS[usize::from(carry.get(n).copied().unwrap_or(check))])
}

/// The first 66 bits, eleven at a time.
fn carried(id: &[u8; 32]) -> [u16; CARRY] {
    let bit = |n: usize| u16::from(id[n / 8] >> (7 - n % 8) & 1);
    std::array::from_fn(|word| (0..BITS).fold(0, |sum, n| sum << 1 | bit(word * BITS + n)))
}

/// A sum in the field of 2^11 elements, modulo x^11 + x^2 + 1 (a primitive polynomial): each word times a power of x
/// of its own, from x up, the check word being without one. So a change of one word, or a change of places of two
/// (the check word among them), changes the sum.
fn check(carry: &[u16; CARRY]) -> u16 {
    let times_x = |n: u16| if n & 1 << (BITS - 1) == 0 { n << 1 } else { (n << 1 ^ 0b101) & 0x7ff };
    // Not from zero, so that the words of an id of zeros are not one word seven times.
    carry.iter().fold(1, |sum, word| times_x(sum ^ word))
}

/// The word that was most likely meant: one that sounds like it, else one that is spelled nearly so.
fn near(word: &str) -> Option<&'static str> {
    let heard = sound(word);
    if let Some(same) = WORDS.iter().find(|w| sound(w) == heard) {
        return Some(same);
    }
    let by_letters = WORDS.iter().map(|w| (strsim::osa_distance(w, word), *w)).min()?;
    (by_letters.0 <= 2).then_some(by_letters.1)
}

/// How a word sounds on a poor line: its consonants in order, those that are easily confused as one (b and p, d and t,
/// g and k, v and f, s and z, m and n), all vowels as one. By common rules of English spelling; no source.
fn sound(word: &str) -> String {
    let mut text = word.to_lowercase();
    for (at_start, as_if) in [("kn", "n"), ("gn", "n"), ("pn", "n"), ("wr", "r"), ("wh", "w"), ("ps", "s")] {
        if let Some(rest) = text.strip_prefix(at_start) {
            text = format!("{as_if}{rest}");
        }
    }
    if let Some(rest) = text.strip_suffix("mb") {
        text = format!("{rest}m");
    }
    for (from, to) in [("tch", "C"), ("sch", "sk"), ("ch", "C"), ("sh", "C"), ("ph", "f"), ("gh", "g"), ("th", "t")] {
        text = text.replace(from, to);
    }
    for (from, to) in [("ck", "k"), ("dge", "C"), ("qu", "kw"), ("x", "ks"), ("tion", "Cn"), ("sion", "Cn")] {
        text = text.replace(from, to);
    }
    let mut out = String::new();
    let letters: Vec<char> = text.chars().collect();
    let ends_in_e = letters.len() > 1 && letters.last() == Some(&'e');
    for (n, letter) in letters.iter().enumerate().take(letters.len() - usize::from(ends_in_e)) {
        let soft = matches!(letters.get(n + 1), Some('e' | 'i' | 'y'));
        let said = match letter {
            'c' if soft => 's',
            'g' if soft => 'C',
            'j' => 'C',
            'b' => 'p',
            'd' => 't',
            'g' | 'c' => 'k',
            'v' => 'f',
            'z' => 's',
            'm' => 'n',
            'h' | 'w' | 'y' if n == 0 => letter.to_ascii_uppercase(),
            'a' | 'e' | 'i' | 'o' | 'u' | 'y' | 'h' | 'w' => 'a',
            other => *other,
        };
        // A letter that is doubled sounds once.
        if !out.ends_with(said) {
            out.push(said);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    fn id(fill: impl Fn(usize) -> u8) -> [u8; 32] {
        std::array::from_fn(fill)
    }

    #[test]
    fn no_two_words_sound_alike_and_none_begins_another() {
        assert_eq!(WORDS.len(), 1 << BITS);
        assert!(WORDS.is_sorted());
        let mut heard: HashMap<String, &str> = HashMap::new();
        let mut rhymes: HashMap<&str, &str> = HashMap::new();
        for pair in WORDS.windows(2) {
            // Sorted, a word stands right before those it is the beginning of.
            assert!(!pair[1].starts_with(pair[0]), "{pair:?}");
        }
        for word in WORDS.iter() {
            assert!((4..=9).contains(&word.len()) && word.bytes().all(|b| b.is_ascii_lowercase()), "{word}");
            if let Some(other) = heard.insert(sound(word), word) {
                panic!("{other} and {word} sound alike");
            }
            let vowel = word.find(['a', 'e', 'i', 'o', 'u', 'y']).unwrap();
            if let Some(other) = rhymes.insert(&word[vowel..], word) {
                panic!("{other} and {word} rhyme");
            }
            // Typed with one letter wrong, left out, put in or changed places with its neighbour, none is another.
            if let Some(other) = WORDS.iter().find(|o| *o != word && strsim::osa_distance(o, word) < 2) {
                panic!("{other} and {word} are one slip of a finger apart");
            }
        }
    }

    /// What the help shows can be typed as it stands.
    #[test]
    fn the_words_of_the_help_are_an_id() {
        let help = include_str!("../cli/verify.rs");
        let (_, words) = help.split_once("--against floodgate").expect("an example");
        let words: Vec<&str> =
            words.split_whitespace().filter(|w| w.chars().all(char::is_alphabetic)).take(6).collect();
        format!("floodgate {}", words.join(" ")).parse::<Spoken>().expect("an id");
    }

    #[test]
    fn words_are_read_back_as_they_were_said() {
        for seed in 0..200u32 {
            let id = id(|n| (seed.wrapping_mul(2_654_435_761).rotate_left(n as u32) >> 7) as u8 ^ n as u8);
            let said = words(&id).join(", ").to_uppercase();
            let spoken: Spoken = said.parse().unwrap();
            assert!(spoken.is_of(&ContentId::from_bytes(id)), "{said}");
            let mut other = id;
            other[8] ^= 0x40;
            assert!(!spoken.is_of(&ContentId::from_bytes(other)), "the last bit the words hold");
        }
    }

    #[test]
    fn any_word_misheard_and_any_two_that_changed_places_are_found_out() {
        let carry = carried(&id(|n| (n * 89 + 31) as u8));
        let right = check(&carry);
        for place in 0..CARRY {
            for word in 0..1 << BITS {
                let mut heard = carry;
                heard[place] = word;
                assert_eq!(check(&heard) == right, word == carry[place]);
            }
            for other in 0..place {
                let mut heard = carry;
                heard.swap(place, other);
                assert_ne!(check(&heard), right);
            }
            // The check word itself in another's place.
            let mut heard = carry;
            heard[place] = right;
            assert!(check(&heard) != carry[place] || right == carry[place]);
        }
    }

    #[test]
    fn a_word_that_is_none_is_told_with_the_one_that_was_meant() {
        let mut said = words(&id(|n| n as u8)).map(str::to_owned);
        said[2] = "kopper".to_owned();
        let error = said.join(" ").parse::<Spoken>().unwrap_err();
        assert_eq!(error, NotSpoken::Unknown { word: "kopper".into(), near: Some("copper") });
        assert_eq!("copper mango".parse::<Spoken>(), Err(NotSpoken::Count { found: 2 }));
        assert_eq!("".parse::<Spoken>(), Err(NotSpoken::Count { found: 0 }));
    }
}
