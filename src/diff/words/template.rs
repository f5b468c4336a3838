//! The mini-templates of `schema/*.toml`: `{value}`, and `[...]` that is dropped when a value inside is missing.

/// Fills in a template. `None` when a value outside every bracket is missing, or when brackets or braces do not close.
pub(super) fn render(template: &str, value: &mut dyn FnMut(&str) -> Option<String>) -> Option<String> {
    let mut rest = template;
    let part = group(&mut rest, false, value)?;
    (rest.is_empty() && part.whole).then_some(part.text)
}

struct Part {
    text: String,
    /// No value directly in it is missing.
    whole: bool,
    /// It has values or inner brackets at all.
    holds: bool,
    /// One of them is there.
    shows: bool,
}

fn group(rest: &mut &str, inner: bool, value: &mut dyn FnMut(&str) -> Option<String>) -> Option<Part> {
    let mut part = Part { text: String::new(), whole: true, holds: false, shows: false };
    while let Some(at) = rest.find(['{', '[', ']']) {
        part.text.push_str(&rest[..at]);
        let mark = rest.as_bytes()[at];
        *rest = &rest[at + 1..];
        match mark {
            b'{' => {
                let end = rest.find('}')?;
                let found = value(&rest[..end]);
                *rest = &rest[end + 1..];
                part.holds = true;
                part.shows |= found.is_some();
                part.whole &= found.is_some();
                part.text.push_str(&found.unwrap_or_default());
            }
            b'[' => {
                let sub = group(rest, true, value)?;
                part.holds = true;
                if sub.whole && (sub.shows || !sub.holds) {
                    part.shows = true;
                    // What would have stood before the comma is missing.
                    let comma = part.text.ends_with(": ").then(|| sub.text.strip_prefix(", ")).flatten();
                    part.text.push_str(comma.unwrap_or(&sub.text));
                }
            }
            _ if inner => return Some(part),
            _ => part.text.push(']'),
        }
    }
    if inner {
        return None;
    }
    part.text.push_str(rest);
    *rest = "";
    Some(part)
}

#[cfg(test)]
mod tests {
    use super::render;

    fn fill(template: &str) -> Option<String> {
        render(template, &mut |name| match name {
            "a" => Some("one".to_owned()),
            "b" => Some("two".to_owned()),
            "odd" => Some("[x] {y}".to_owned()),
            _ => None,
        })
    }

    #[test]
    fn brackets_go_with_what_is_missing_in_them() {
        for (template, said) in [
            ("{a} and {b}", Some("one and two")),
            ("{a}[, {b}]", Some("one, two")),
            ("{a}[, {gone}]", Some("one")),
            ("{a}[: [{gone} ][{b}]]", Some("one: two")),
            ("{a}[: [{gone} ][{lost}]]", Some("one")),
            ("{a}[: [{gone}][, {b}]]", Some("one: two")),
            ("{a}[ ({b}[, {gone}])]", Some("one (two)")),
            ("{gone}", None),
            ("{a", None),
            ("[{a}", None),
            ("{odd}", Some("[x] {y}")),
            ("", Some("")),
        ] {
            assert_eq!(fill(template).as_deref(), said, "{template}");
        }
    }

    proptest::proptest! {
        #[test]
        fn no_template_panics(template in "[a-c{}\\[\\] é]{0,24}") {
            let _ = fill(&template);
        }
    }
}
