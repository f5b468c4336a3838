//! Characters that do something or hide instead of being seen.

/// Whether a character shows nothing of itself on a screen, or turns the order of those that do.
///
/// The Unicode Standard's Default_Ignorable_Code_Point (UAX #44, DerivedCoreProperties.txt), which has the marks of
/// direction of UAX #9 in it that UTS #55 warns of in sources; the separators of lines and paragraphs (categories Zl, Zp);
/// and the annotation marks U+FFF9 to U+FFFB. Other characters of category Cf, as the signs of Arabic numbers, are seen.
/// Control characters are `char::is_control`.
pub fn is_invisible(c: char) -> bool {
    matches!(
        c,
        '\u{ad}'
            | '\u{34f}'
            | '\u{61c}'
            | '\u{115f}'..='\u{1160}'
            | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{3164}'
            | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}'
            | '\u{ffa0}'
            | '\u{fff0}'..='\u{fffb}'
            | '\u{1bca0}'..='\u{1bca3}'
            | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e0fff}'
    )
}

/// The text with control characters, line breaks and invisible characters replaced by visible escapes.
pub fn visible(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_control() || is_invisible(c) { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out
}

/// What was typed as a part of one line, as the first line of a record or of a list: a line break or a tab is a blank, and
/// what else would act or hide is visible. Letters of any alphabet stay.
pub fn on_a_line(text: &str) -> String {
    let blank = |c: char| if c.is_control() && c.is_whitespace() { ' ' } else { c };
    visible(&text.chars().map(blank).collect::<String>())
}

/// The first characters of a text, as many as fit, in whole ones.
pub fn cut(text: &str, most: usize) -> &str {
    text.char_indices().nth(most).map_or(text, |(at, _)| &text[..at])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The explicit marks of direction, UAX #9 table 1: ALM, LRM, RLM, LRE, RLE, PDF, LRO, RLO, LRI, RLI, FSI, PDI.
    const DIRECTIONS: &str =
        "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}";

    #[test]
    fn what_turns_or_hides_letters_is_invisible_and_what_is_read_is_not() {
        assert!(DIRECTIONS.chars().all(is_invisible));
        for c in
            ['\u{ad}', '\u{200b}', '\u{200d}', '\u{2060}', '\u{feff}', '\u{e0041}', '\u{2028}', '\u{fe0f}', '\u{3164}']
        {
            assert!(is_invisible(c), "{c:?}");
        }
        for c in ['a', ' ', '\u{e9}', '\u{436}', '\u{96bc}', '\u{5d0}', '\u{600}', '\u{301}', '\u{2014}', '\u{1f697}'] {
            assert!(!is_invisible(c), "{c:?}");
        }
        assert_eq!(visible("a\u{202e}b\u{1b}[2J\n"), "a\\u{202e}b\\u{1b}[2J\\n");
    }
}
