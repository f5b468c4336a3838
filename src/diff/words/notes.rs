//! Notes: compared line by line.

use super::show::clip;
use similar::{ChangeTag, TextDiff};

/// What became of a line of the notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LineChange {
    /// Only in the newer notes.
    Added,
    /// Only in the older notes.
    TakenOut,
    /// In both.
    Kept,
}

/// A line of the notes and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct NoteLine {
    /// What became of it.
    pub change: LineChange,
    /// The line, without its end.
    pub text: String,
}

/// Two notes line by line, in the order a reader expects: what was taken out before what came in its place.
pub fn note_lines(old: &str, new: &str) -> Vec<NoteLine> {
    let diff = TextDiff::from_lines(old, new);
    let line = |c: similar::Change<&str>| NoteLine {
        change: match c.tag() {
            ChangeTag::Insert => LineChange::Added,
            ChangeTag::Delete => LineChange::TakenOut,
            ChangeTag::Equal => LineChange::Kept,
        },
        text: c.value().trim_end_matches(['\n', '\r']).to_owned(),
    };
    diff.iter_all_changes().map(line).collect()
}

/// The line to quote, and how many were changed: `("new converter ...", "1 line changed")`.
pub(super) fn summary(old: &str, new: &str) -> (String, String) {
    // A missing line end is no change of words.
    let ended = |t: &str| {
        if t.is_empty() || t.ends_with('\n') { t.to_owned() } else { format!("{t}\n") }
    };
    let lines = note_lines(&ended(old), &ended(new));
    let of = |change: LineChange| lines.iter().filter(move |l| l.change == change);
    let quoted = of(LineChange::Added).chain(of(LineChange::TakenOut)).map(|l| clip(&l.text)).find(|t| !t.is_empty());
    let (added, out) = (of(LineChange::Added).count(), of(LineChange::TakenOut).count());
    let changed = added.min(out);
    let parts = [(changed, "changed"), (added - changed, "added"), (out - changed, "taken out")];
    let mut said: Vec<String> = Vec::new();
    for (n, what) in parts.into_iter().filter(|(n, _)| *n > 0) {
        let line = if n == 1 { "line" } else { "lines" };
        said.push(if said.is_empty() { format!("{n} {line} {what}") } else { format!("{n} {what}") });
    }
    let count = if said.is_empty() { "spacing only".to_owned() } else { said.join(", ") };
    (quoted.unwrap_or_else(|| "empty line".to_owned()), count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_counted_and_the_new_one_quoted() {
        for (old, new, line, count) in [
            ("a\nb\nc", "a\nB\nc", "B", "1 line changed"),
            ("a", "a\nb", "b", "1 line added"),
            ("a\nb", "a", "b", "1 line taken out"),
            ("a\nb", "x\ny\nz", "x", "2 lines changed, 1 added"),
            ("", "one\ntwo", "one", "2 lines added"),
            ("a", "a\n", "empty line", "spacing only"),
        ] {
            assert_eq!(summary(old, new), (line.to_owned(), count.to_owned()), "{old:?} {new:?}");
        }
    }

    #[test]
    fn every_line_is_there_once() {
        let lines = note_lines("keep\nold\n", "keep\nnew\n");
        let said: Vec<_> = lines.iter().map(|l| (l.change, l.text.as_str())).collect();
        assert_eq!(said, [(LineChange::Kept, "keep"), (LineChange::TakenOut, "old"), (LineChange::Added, "new")]);
    }
}
