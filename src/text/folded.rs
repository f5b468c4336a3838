//! Texts read with what looks or means alike as one, and where each piece of it stands as written.

use super::digits::ascii_digit;
use super::invisible::is_invisible;
use super::latin::latin;
use std::ops::Range;

/// A text folded character by character.
#[derive(Debug, Clone)]
pub struct Folded {
    /// The folded text.
    pub text: String,
    /// For each of its bytes, the character as written that it came from.
    from: Vec<Range<usize>>,
    /// Bytes of the text as written.
    len: usize,
}

impl Folded {
    /// Folds a text; `fold` puts what stands for a character into the string, which may be nothing.
    pub fn of(text: &str, fold: impl Fn(char, &mut String)) -> Folded {
        let mut out =
            Folded { text: String::with_capacity(text.len()), from: Vec::with_capacity(text.len()), len: text.len() };
        for (at, c) in text.char_indices() {
            fold(c, &mut out.text);
            out.from.resize(out.text.len(), at..at + c.len_utf8());
        }
        out
    }

    /// Where a piece of the folded text stands as written, with what stands for nothing behind it.
    pub fn source(&self, folded: Range<usize>) -> Range<usize> {
        match (self.from.get(folded.start), self.from.get(folded.end.wrapping_sub(1))) {
            (Some(first), Some(last)) if !folded.is_empty() => {
                first.start..self.from.get(folded.end).map_or(self.len, |next| next.start.max(last.end))
            }
            _ => 0..0,
        }
    }
}

/// Digits of any script as ASCII; dashes, blanks and full-width forms as the plain ones; what is invisible as nothing. Dashes
/// as wide as an em stay wide: they part sentences too.
pub fn plain(c: char, out: &mut String) {
    match c {
        c if c.is_ascii() => out.push(c),
        '\u{2010}'..='\u{2013}' | '\u{2212}' | '\u{fe58}' | '\u{fe63}' | '\u{ff0d}' => out.push('-'),
        '\u{2014}' | '\u{2015}' => out.push('\u{2014}'),
        c if c.is_whitespace() => out.push(' '),
        c if is_invisible(c) => {}
        c => match (ascii_digit(c), u32::from(c)) {
            (Some(digit), _) => out.push(digit),
            // The full-width forms of ASCII stand in its order.
            (None, code @ 0xff01..=0xff5e) => out.extend(char::from_u32(code - 0xff01 + 0x21)),
            _ => out.push(c),
        },
    }
}

/// Letters without their case and marks, in Latin ones where they have any; what is invisible as nothing.
pub fn letters(c: char, out: &mut String) {
    if c.is_ascii() {
        return out.push(if c.is_ascii_whitespace() { ' ' } else { c.to_ascii_lowercase() });
    }
    for c in c.to_lowercase() {
        match latin(c) {
            Some(letters) => out.push_str(letters),
            // A mark upon the letter before it.
            None if ('\u{300}'..='\u{36f}').contains(&c) || is_invisible(c) => {}
            None if c == '\u{2019}' => out.push('\''),
            None if c.is_whitespace() => out.push(' '),
            None => out.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_found_folded_is_found_as_written() {
        let text = "an M\u{dc}LLER, Jose\u{301}\u{a0}\u{df}";
        let folded = Folded::of(text, letters);
        assert_eq!(folded.text, "an muller, jose ss");
        let at = |piece: &str| {
            let start = folded.text.find(piece).unwrap();
            &text[folded.source(start..start + piece.len())]
        };
        assert_eq!((at("muller"), at("ss")), ("M\u{dc}LLER", "\u{df}"));
        assert_eq!((at("jos"), at("jose")), ("Jos", "Jose\u{301}"));
        assert_eq!(folded.source(0..0), 0..0);
        let plain = Folded::of("\u{ff0b}1\u{2011}\u{200b}2\u{2014}3", plain);
        assert_eq!(plain.text, "+1-2\u{2014}3");
    }
}
