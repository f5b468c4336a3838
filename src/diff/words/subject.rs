//! Clauses → one line for a list of versions, and the lines below it.

use super::Clause;
use crate::text::{cut, on_a_line};

/// The longest subject, as `git log --oneline` shows it whole.
pub const LONGEST_SUBJECT: usize = 72;

/// The subject where no value is another.
pub const NOTHING_CHANGED: &str = "nothing changed";

/// One sentence on one line, at most 72 characters, names as they were typed: two clauses in full, or short, and how many more there are.
pub fn subject(clauses: &[Clause]) -> String {
    if clauses.is_empty() {
        return NOTHING_CHANGED.to_owned();
    }
    fit("", clauses, &[|c| &c.text, |c| &c.brief])
}

/// All full texts, one a line, when the subject does not hold them all.
pub fn body(clauses: &[Clause]) -> Option<String> {
    let texts: Vec<&str> = clauses.iter().map(|c| c.text.as_str()).collect();
    let held = clauses.len() <= 2
        && subject(clauses) == ordered(clauses).map(|c| c.text.as_str()).collect::<Vec<_>>().join(", ");
    (!clauses.is_empty() && !held).then(|| texts.join("\n"))
}

/// "back to v17: limiter down 0.50 in, rear shocks looser 2 clicks".
pub fn back_to(version: &str, clauses: &[Clause]) -> String {
    let version = super::visible(version);
    if clauses.is_empty() {
        return format!("back to {version}");
    }
    fit(&format!("back to {version}: "), clauses, &[|c| &c.brief])
}

/// What a hand turned leads; what was only measured or noted follows.
fn ordered(clauses: &[Clause]) -> impl Iterator<Item = &Clause> {
    clauses.iter().filter(|c| c.turned).chain(clauses.iter().filter(|c| !c.turned))
}

fn fit(prefix: &str, clauses: &[Clause], forms: &[fn(&Clause) -> &String]) -> String {
    let ordered: Vec<&Clause> = ordered(clauses).collect();
    let mut short = String::new();
    for take in [2, 1] {
        let shown = take.min(ordered.len());
        let more = match ordered.len() - shown {
            0 => String::new(),
            n => format!(", {n} more"),
        };
        for form in forms {
            let said: Vec<&str> = ordered[..shown].iter().map(|c| form(c).as_str()).collect();
            let line = on_a_line(&format!("{prefix}{}{more}", said.join(", ")));
            if line.chars().count() <= LONGEST_SUBJECT {
                return line;
            }
        }
        let room = LONGEST_SUBJECT.saturating_sub(more.len() + 3);
        let alone = on_a_line(&format!("{prefix}{}", ordered[0].brief));
        short = format!("{}...{more}", cut(&alone, room).trim_end());
    }
    short
}

/// The short form of a sentence that has none of its own: without what stands in parentheses at its end.
pub(super) fn shorten(text: &str, cuts: &[&str]) -> String {
    let mut short = text;
    if let Some((before, _)) = short.rsplit_once(" (").filter(|_| short.ends_with(')')) {
        short = before;
    }
    for cut in cuts {
        short = short.split(cut).next().unwrap_or(short);
    }
    if short.trim().is_empty() { text.to_owned() } else { short.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clause(text: &str, brief: &str) -> Clause {
        let own = str::to_owned;
        Clause { group: own("rear"), text: own(text), brief: own(brief), fields: vec![own("x")], turned: true }
    }

    #[test]
    fn full_then_short_then_more() {
        let long = clause("rear leaf segments unclamped (2 clamps off each side)", "rear leaf segments unclamped");
        let both = clause("both front shocks now free-rise", "both front shocks free-rise");
        let one = std::slice::from_ref(&long);
        assert_eq!(subject(one), long.text);
        assert_eq!(body(one), None);
        let two = [long.clone(), both.clone()];
        assert_eq!(subject(&two), "rear leaf segments unclamped, both front shocks free-rise");
        assert_eq!(body(&two), Some(format!("{}\n{}", long.text, both.text)));
        let mut nine = vec![long, both];
        nine.extend((0..7).map(|i| clause(&format!("clause {i}"), "c")));
        assert_eq!(subject(&nine), "rear leaf segments unclamped, both front shocks free-rise, 7 more");
        assert_eq!(subject(&[]), "nothing changed");
    }

    #[test]
    fn a_clause_is_cut_only_when_it_alone_is_too_long() {
        let huge = "x".repeat(90);
        assert_eq!(subject(&[clause(&huge, &huge)]), format!("{}...", &huge[..69]));
        let two = [clause(&huge, &huge), clause("b", "b")];
        assert_eq!(subject(&two), format!("{}..., 1 more", &huge[..61]));
        let named = clause("rear shocks now \"größe\"", "rear shocks now \"größe\"");
        assert_eq!(subject(std::slice::from_ref(&named)), named.text);
        // Cut by letters, not by bytes; what would act on a terminal is visible.
        let long = "\u{448}".repeat(90);
        assert_eq!(subject(&[clause(&long, &long)]), format!("{}...", "\u{448}".repeat(69)));
        let turned = clause("now \"a\u{202e}b\"\n", "x");
        assert_eq!(subject(&[turned]), "now \"a\\u{202e}b\" ");
    }

    #[test]
    fn short_forms_lose_the_parenthesis() {
        assert_eq!(shorten("a (b -> c)", &[]), "a");
        assert_eq!(shorten("a: b, c", &[": "]), "a");
        assert_eq!(shorten("(x)", &[]), "(x)");
    }
}
