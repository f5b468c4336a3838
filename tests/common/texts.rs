//! What is wanted of a text that was answered.

/// The words of a text, wherever its lines end.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Wants every one of these in a text.
#[track_caller]
pub fn has(text: &str, wanted: &[&str]) {
    for w in wanted {
        assert!(text.contains(w), "`{w}` is not in:\n{text}");
    }
}

/// Wants none of these in a text.
#[track_caller]
pub fn has_not(text: &str, unwanted: &[&str]) {
    for w in unwanted {
        assert!(!text.contains(w), "`{w}` is in:\n{text}");
    }
}

/// Wants no control character but the end of a line, and none that turns the direction of writing.
#[track_caller]
pub fn no_controls(text: &str) {
    let bad = text.chars().find(|c| {
        (c.is_control() && *c != '\n')
            || "\u{ad}\u{61c}\u{feff}\u{e0041}".contains(*c)
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}')
    });
    assert_eq!(bad, None, "{text:?}");
}
