//! The conditions of rules: `rear.limiter.kind is not none and (rear.limiter.gap <= most_in or moved(front.height))`.
//!
//! | form | is |
//! | --- | --- |
//! | `A and B`, `A or B`, `not A`, `( )` | as usual; `and` binds tighter |
//! | `X < Y`, `<=`, `>`, `>=` | numbers; of a value each side: either side |
//! | `KEY is WORDS`, `KEY is not WORDS` | a choice, a text, yes or no; either side |
//! | `KEY is on record`, `KEY is not on record` | whether it is |
//! | `moved(KEY)` | something that moves it was changed after it was taken or set |
//! | `turned(KEY)` | it was changed after the last run |
//! | `spread(KEY)` | how far its sides are apart |
//! | `abs(X)`, `X + Y`, `X - Y` | of numbers |
//!
//! A name with a dot is a field or a slot of one; a name without is a figure or a limit of the rule.

use serde::Deserialize;
use std::fmt;

/// A number in a condition.
#[derive(Debug, Clone, PartialEq)]
pub enum Term {
    /// As written.
    Number(f64),
    /// A field, a figure, or a limit.
    Name(String),
    /// How far the sides of a field are apart.
    Spread(String),
    /// Without its sign.
    Abs(Box<Term>),
    /// The sum.
    Plus(Box<Term>, Box<Term>),
    /// The difference.
    Minus(Box<Term>, Box<Term>),
}

/// How two numbers are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "their signs say it")]
pub enum Compare {
    Less,
    AtMost,
    More,
    AtLeast,
}

impl Compare {
    /// Whether it holds. Numbers that differ only by how binary arithmetic rounds are equal: 108.12 - 108 is 0.12.
    pub fn holds(self, a: f64, b: f64) -> bool {
        let equal = (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0);
        match self {
            Compare::Less => a < b && !equal,
            Compare::AtMost => a < b || equal,
            Compare::More => a > b && !equal,
            Compare::AtLeast => a > b || equal,
        }
    }
}

/// A condition.
#[derive(Debug, Clone, PartialEq)]
pub enum Expr {
    /// All hold.
    And(Vec<Expr>),
    /// One holds.
    Or(Vec<Expr>),
    /// It does not hold.
    Not(Box<Expr>),
    /// Numbers compared.
    Number(Term, Compare, Term),
    /// A value is (or is not) these words.
    Is(String, String, bool),
    /// It is (or is not) on record.
    OnRecord(String, bool),
    /// What moves it was changed after it was taken or set.
    Moved(String),
    /// It was changed after the last run.
    Turned(String),
}

/// The longest condition that is read, in bytes; one of a book comes from a stranger.
pub const LONGEST_EXPR: usize = 2000;

/// Brackets and `not` in each other.
const DEEPEST: usize = 32;

impl Expr {
    /// Reads a condition; the error says what was not understood.
    pub fn parse(text: &str) -> Result<Expr, String> {
        if text.len() > LONGEST_EXPR {
            return Err(format!("a condition is {LONGEST_EXPR} bytes at most"));
        }
        let tokens = tokens(text)?;
        let mut reader = Reader { tokens: &tokens, at: 0, deep: 0 };
        let expr = reader.or()?;
        match reader.next() {
            None => Ok(expr),
            Some(extra) => Err(format!("`{extra}` was not expected in `{text}`")),
        }
    }

    /// The names it looks at.
    pub fn names(&self) -> Vec<&str> {
        match self {
            Expr::And(all) | Expr::Or(all) => all.iter().flat_map(Expr::names).collect(),
            Expr::Not(e) => e.names(),
            Expr::Number(a, _, b) => [a.names(), b.names()].concat(),
            Expr::Is(k, ..) | Expr::OnRecord(k, _) | Expr::Moved(k) | Expr::Turned(k) => vec![k],
        }
    }
}

impl Term {
    /// The names it looks at.
    pub fn names(&self) -> Vec<&str> {
        match self {
            Term::Number(_) => Vec::new(),
            Term::Name(n) | Term::Spread(n) => vec![n],
            Term::Abs(t) => t.names(),
            Term::Plus(a, b) | Term::Minus(a, b) => [a.names(), b.names()].concat(),
        }
    }
}

impl<'de> Deserialize<'de> for Expr {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Expr, D::Error> {
        let text = String::deserialize(from)?;
        Expr::parse(&text).map_err(serde::de::Error::custom)
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Token {
    Word(String),
    Sign(&'static str),
}

impl fmt::Display for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Token::Word(w) => f.write_str(w),
            Token::Sign(s) => f.write_str(s),
        }
    }
}

const SIGNS: [&str; 8] = ["<=", ">=", "<", ">", "(", ")", "+", "-"];

fn tokens(text: &str) -> Result<Vec<Token>, String> {
    let mut out = Vec::new();
    for chunk in text.split_whitespace() {
        let mut rest = chunk;
        while !rest.is_empty() {
            // A sign inside a word (`drag-radial`) belongs to the word.
            if let Some(sign) = SIGNS.iter().find(|s| rest.starts_with(**s)) {
                out.push(Token::Sign(sign));
                rest = &rest[sign.len()..];
                continue;
            }
            let end = rest.find(['<', '>', '(', ')']).unwrap_or(rest.len());
            out.push(Token::Word(rest[..end].to_owned()));
            rest = &rest[end..];
        }
    }
    if out.is_empty() { Err("an empty condition".to_owned()) } else { Ok(out) }
}

struct Reader<'a> {
    tokens: &'a [Token],
    at: usize,
    deep: usize,
}

impl Reader<'_> {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at)
    }

    fn next(&mut self) -> Option<Token> {
        let token = self.tokens.get(self.at).cloned();
        self.at += 1;
        token
    }

    fn is_word(&self, word: &str) -> bool {
        matches!(self.peek(), Some(Token::Word(w)) if w == word)
    }

    fn take(&mut self, word: &str) -> bool {
        let is = self.is_word(word) || matches!(self.peek(), Some(Token::Sign(s)) if *s == word);
        self.at += usize::from(is);
        is
    }

    fn or(&mut self) -> Result<Expr, String> {
        let mut all = vec![self.and()?];
        while self.take("or") {
            all.push(self.and()?);
        }
        Ok(if all.len() == 1 { all.remove(0) } else { Expr::Or(all) })
    }

    fn and(&mut self) -> Result<Expr, String> {
        let mut all = vec![self.not()?];
        while self.take("and") {
            all.push(self.not()?);
        }
        Ok(if all.len() == 1 { all.remove(0) } else { Expr::And(all) })
    }

    fn not(&mut self) -> Result<Expr, String> {
        self.deep += 1;
        if self.deep > DEEPEST {
            return Err("brackets too deep in each other".to_owned());
        }
        let out = if self.take("not") {
            Expr::Not(Box::new(self.not()?))
        } else if self.take("(") {
            let inner = self.or()?;
            if !self.take(")") {
                return Err("`)` is missing".to_owned());
            }
            inner
        } else {
            self.test()?
        };
        self.deep -= 1;
        Ok(out)
    }

    fn test(&mut self) -> Result<Expr, String> {
        for (word, make) in [("moved", Expr::Moved as fn(String) -> Expr), ("turned", Expr::Turned)] {
            if self.is_word(word) && self.tokens.get(self.at + 1) == Some(&Token::Sign("(")) {
                self.at += 2;
                return Ok(make(self.inside()?));
            }
        }
        let left = self.term()?;
        match self.next() {
            Some(Token::Word(w)) if w == "is" => {
                let Term::Name(key) = left else { return Err("`is` follows a name".to_owned()) };
                let no = self.take("not");
                let mut words = Vec::new();
                while let Some(Token::Word(w)) = self.peek() {
                    if w == "and" || w == "or" {
                        break;
                    }
                    words.push(w.clone());
                    self.at += 1;
                }
                match words.join(" ").as_str() {
                    "" => Err(format!("`{key} is` what?")),
                    "on record" => Ok(Expr::OnRecord(key, !no)),
                    words => Ok(Expr::Is(key, words.to_owned(), !no)),
                }
            }
            Some(Token::Sign(s)) => {
                let compare = match s {
                    "<" => Compare::Less,
                    "<=" => Compare::AtMost,
                    ">" => Compare::More,
                    ">=" => Compare::AtLeast,
                    other => return Err(format!("`{other}` was not expected")),
                };
                Ok(Expr::Number(left, compare, self.term()?))
            }
            Some(other) => Err(format!("`{other}` was not expected: <, <=, >, >= or `is`")),
            None => Err("the condition breaks off".to_owned()),
        }
    }

    fn term(&mut self) -> Result<Term, String> {
        let mut left = self.factor()?;
        loop {
            if self.take("+") {
                left = Term::Plus(Box::new(left), Box::new(self.factor()?));
            } else if self.take("-") {
                left = Term::Minus(Box::new(left), Box::new(self.factor()?));
            } else {
                return Ok(left);
            }
        }
    }

    fn factor(&mut self) -> Result<Term, String> {
        if self.take("-") {
            let Some(Token::Word(w)) = self.next() else { return Err("a number is missing behind `-`".to_owned()) };
            return w.parse::<f64>().map(|n| Term::Number(-n)).map_err(|_| format!("`{w}` is no number"));
        }
        let Some(Token::Word(word)) = self.next() else { return Err("a name or a number is missing".to_owned()) };
        if let Ok(n) = word.parse::<f64>() {
            return if n.is_finite() { Ok(Term::Number(n)) } else { Err(format!("`{word}` is no number")) };
        }
        if self.take("(") {
            return match word.as_str() {
                "spread" => Ok(Term::Spread(self.inside()?)),
                "abs" => {
                    self.deep += 1;
                    if self.deep > DEEPEST {
                        return Err("brackets too deep in each other".to_owned());
                    }
                    let inner = self.term()?;
                    self.deep -= 1;
                    if self.take(")") { Ok(Term::Abs(Box::new(inner))) } else { Err("`)` is missing".to_owned()) }
                }
                other => Err(format!("there is no `{other}( )`: moved, turned, spread, abs")),
            };
        }
        if word.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '_' | '.')) {
            Ok(Term::Name(word))
        } else {
            Err(format!("`{word}` is no name of a field, a figure or a limit"))
        }
    }

    /// A name and the bracket behind it.
    fn inside(&mut self) -> Result<String, String> {
        match (self.next(), self.take(")")) {
            (Some(Token::Word(w)), true) => Ok(w),
            _ => Err("a field's key and `)` are missing".to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_it_should() {
        let read = |t: &str| Expr::parse(t);
        let name = |n: &str| Term::Name(n.to_owned());
        assert_eq!(
            read("rear.limiter.kind is not pin tower and gap_in<=0.75"),
            Ok(Expr::And(vec![
                Expr::Is("rear.limiter.kind".into(), "pin tower".into(), false),
                Expr::Number(name("gap_in"), Compare::AtMost, Term::Number(0.75)),
            ]))
        );
        assert_eq!(
            read("a.b is on record or not (moved(c.d) or x > -5)"),
            Ok(Expr::Or(vec![
                Expr::OnRecord("a.b".into(), true),
                Expr::Not(Box::new(Expr::Or(vec![
                    Expr::Moved("c.d".into()),
                    Expr::Number(name("x"), Compare::More, Term::Number(-5.0)),
                ]))),
            ]))
        );
        assert_eq!(read("abs(a - b) > spread(c.d) + 2").map(|e| e.names().join(" ")), Ok("a b c.d".to_owned()));
    }

    #[test]
    fn refuses_what_it_cannot_read() {
        let deep = "(".repeat(40) + "a > 1" + &")".repeat(40);
        for bad in
            ["", "a", "a >", "a > 1 b", "a is", "(a > 1", "a > 1)", "sum(a) > 1", "A > 1", "a > nan", "- > 1", &deep]
        {
            assert!(Expr::parse(bad).is_err(), "{bad}");
        }
        assert!(Expr::parse(&"a > 1 and ".repeat(300)).is_err());
    }
}
