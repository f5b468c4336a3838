//! The streams: stdout carries the answer, stderr everything else. A broken pipe is no error.

use crate::text::{is_invisible, visible};
use std::io::{BufRead, IsTerminal, Read, Write};

/// Text for the terminal, line by line, with nothing in it that would act or hide there.
fn visible_lines(text: &str) -> String {
    text.lines().map(visible).collect::<Vec<_>>().join("\n")
}

/// JSON for the terminal, of the same value: what would act or hide there is written as `\u` and its number (RFC 8259,
/// section 7). Such characters stand in texts alone; the line breaks between the values stay.
fn visible_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c != '\n' && (c.is_control() || is_invisible(c)) {
            out.extend(c.encode_utf16(&mut [0; 2]).iter().map(|unit| format!("\\u{unit:04x}")));
        } else {
            out.push(c);
        }
    }
    out
}

/// Owns the streams of the process.
pub struct Ui {
    out: Box<dyn Write>,
    err: Box<dyn Write>,
    asks: bool,
    err_terminal: bool,
    no_color: bool,
    width: usize,
}

impl Ui {
    /// The streams of the process.
    pub fn of_process() -> Ui {
        let columns = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
        let terminal = terminal_size::terminal_size().map(|(w, _)| usize::from(w.0));
        Ui {
            out: Box::new(std::io::stdout()),
            err: Box::new(std::io::stderr()),
            asks: std::io::stdin().is_terminal() && std::io::stderr().is_terminal(),
            err_terminal: std::io::stderr().is_terminal(),
            no_color: std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty()),
            width: columns.or(terminal).unwrap_or(80).clamp(40, 200),
        }
    }

    /// Columns of the screen.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Colour on stderr.
    pub fn colour_err(&self) -> bool {
        self.err_terminal && !self.no_color
    }

    /// Somebody is there to answer.
    pub fn asks(&self) -> bool {
        self.asks
    }

    /// Progress may be drawn.
    pub fn progress(&self) -> bool {
        self.err_terminal
    }

    /// The answer.
    pub fn text(&mut self, text: &str) {
        // A reader that went away (`| head`) is no error.
        let _ = self.out.write_all(text.as_bytes()).and_then(|()| self.out.flush());
    }

    /// The answer as JSON.
    pub fn json(&mut self, json: &serde_json::Value) {
        let text = serde_json::to_string_pretty(json).unwrap_or_default();
        self.text(&format!("{}\n", visible_json(&text)));
    }

    /// An error as JSON: on one line, so that what was said before it can be told apart.
    pub fn problem(&mut self, json: &serde_json::Value) {
        self.report(&visible_json(&json.to_string()));
    }

    /// Status, warnings, errors: with nothing in them that would act on a terminal or hide there.
    pub fn status(&mut self, text: &str) {
        self.report(&visible_lines(text));
    }

    /// What was made for a terminal, with its colours: whatever is not the program's own in it is visible already.
    pub fn report(&mut self, text: &str) {
        let _ = writeln!(self.err, "{text}");
    }

    /// A question; `None` where nobody answers or the input ended.
    pub fn ask(&mut self, question: &str) -> Option<String> {
        if !self.asks {
            return None;
        }
        let _ = write!(self.err, "{} ", visible_lines(question)).and_then(|()| self.err.flush());
        let mut line = String::new();
        match std::io::stdin().lock().read_line(&mut line) {
            Ok(n) if n > 0 => Some(line.trim().to_owned()),
            _ => None,
        }
    }

    /// What is piped in, as far as `limit` bytes.
    pub fn input(&mut self, limit: u64) -> std::io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// Lines typed or pasted, to an empty one or the end; `None` where nobody answers.
    pub fn lines(&mut self, question: &str) -> Option<String> {
        if !self.asks {
            return None;
        }
        self.status(question);
        let mut out = String::new();
        for line in std::io::stdin().lock().lines().map_while(Result::ok).take_while(|l| !l.trim().is_empty()) {
            out.push_str(&line);
            out.push('\n');
        }
        Some(out)
    }

    /// Yes or no, asked again until it is one of them; `None` where nobody answers.
    pub fn confirm(&mut self, question: &str) -> Option<bool> {
        loop {
            match self.ask(&format!("{question} [y/n]"))?.to_lowercase().as_str() {
                "y" | "yes" => return Some(true),
                "n" | "no" => return Some(false),
                _ => self.status("y for yes, n for no"),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_is_of_the_same_value_and_has_nothing_that_acts_or_hides() {
        let value = serde_json::json!({"na\u{202e}me": ["\u{9b}2J\u{7f}", "a\u{e0041}\n\t\u{1b}\u{feff}", "\u{436}\u{e9}\u{1f697}"]});
        for text in [serde_json::to_string_pretty(&value).unwrap(), value.to_string()] {
            let shown = visible_json(&text);
            assert!(shown.chars().all(|c| c == '\n' || !c.is_control() && !is_invisible(c)), "{shown:?}");
            assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).unwrap(), value);
            assert_eq!(shown.lines().count(), text.lines().count());
            assert!(shown.contains("\u{436}\u{e9}\u{1f697}") && shown.contains("\\udb40\\udc41"), "{shown}");
        }
    }
}
