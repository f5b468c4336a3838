//! A word of a command that is to be typed.

/// A word as it is typed at a shell.
pub fn shell_word(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-+:@%,=~".contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        return text.to_owned();
    }
    format!("'{}'", text.replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shell_reads_the_word_back() {
        assert_eq!(shell_word("/media/stick/grey.bundle"), "/media/stick/grey.bundle");
        assert_eq!(shell_word("/media/my stick"), "'/media/my stick'");
        assert_eq!(shell_word("it's"), "'it'\\''s'");
        assert_eq!(shell_word(""), "''");
    }
}
