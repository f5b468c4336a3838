//! The order of the layers, read from the sources: who may use whom, where gix and printing may stand.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Module, and the modules of the crate it may use.
const MAY_USE: &[(&str, &[&str])] = &[
    ("text", &[]),
    ("schema", &[]),
    ("air", &["schema"]),
    ("chassis", &["schema"]),
    ("stats", &[]),
    ("store", &["text"]),
    ("diff", &["text", "schema"]),
    ("slip", &["text", "schema", "air"]),
    ("timeline", &["schema", "diff", "slip"]),
    ("wrench", &["schema", "diff", "timeline"]),
    ("trial", &["text", "schema", "slip", "timeline"]),
    ("pace", &["schema", "stats", "air", "slip", "timeline"]),
    ("blame", &["schema", "stats", "air", "timeline", "diff", "slip", "pace"]),
    ("garage", &["text", "schema", "air", "store", "timeline", "trial", "diff", "slip"]),
    ("figures", &["schema", "air", "chassis", "diff", "slip", "timeline"]),
    ("check", &["schema", "diff", "slip", "timeline", "figures"]),
    (
        "render",
        &[
            "text", "schema", "stats", "air", "chassis", "timeline", "wrench", "trial", "diff", "slip", "pace",
            "blame", "garage", "figures", "check",
        ],
    ),
    (
        "cli",
        &[
            "text", "schema", "stats", "air", "chassis", "store", "timeline", "wrench", "trial", "diff", "slip",
            "pace", "blame", "garage", "figures", "check", "render",
        ],
    ),
];

/// What prints.
const PRINTING: [&str; 5] = ["println!", "eprintln!", "print!", "eprint!", "dbg!"];

/// Every source with its path below `src/`, and its text without comments, strings and character literals.
fn sources() -> Vec<(PathBuf, String, String)> {
    fn walk(dir: &Path, out: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                out.push(path);
            }
        }
    }
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    walk(&src, &mut paths);
    paths.sort();
    assert!(paths.len() > 50, "the sources were not found");
    let read = |path: PathBuf| {
        let text = std::fs::read_to_string(&path).unwrap();
        let code = code_of(&text);
        (path.strip_prefix(&src).unwrap().to_owned(), text, code)
    };
    paths.into_iter().map(read).collect()
}

/// The text with comments, strings and character literals blanked out.
fn code_of(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut i = 0;
    while i < chars.len() {
        let rest = &chars[i..];
        let used = match rest {
            ['/', '/', ..] => rest.iter().position(|c| *c == '\n').unwrap_or(rest.len()),
            ['/', '*', ..] => rest.windows(2).position(|w| w == ['*', '/']).map_or(rest.len(), |n| n + 2),
            ['r', '"', ..] => rest[2..].iter().position(|c| *c == '"').map_or(rest.len(), |n| n + 3),
            ['r', '#', '"', ..] => rest[3..].windows(2).position(|w| w == ['"', '#']).map_or(rest.len(), |n| n + 5),
            ['"', ..] => string_end(rest),
            ['\'', '\\', ..] => rest[2..].iter().skip(1).position(|c| *c == '\'').map_or(rest.len(), |n| n + 4),
            ['\'', _, '\'', ..] => 3,
            _ => {
                out.push(chars[i]);
                i += 1;
                continue;
            }
        };
        out.extend(rest[..used].iter().map(|c| if *c == '\n' { '\n' } else { ' ' }));
        i += used;
    }
    out
}

fn string_end(rest: &[char]) -> usize {
    let mut i = 1;
    while i < rest.len() {
        match rest[i] {
            '\\' => i += 2,
            '"' => return i + 1,
            _ => i += 1,
        }
    }
    rest.len()
}

/// The layer a source belongs to: the folder or file right below `src/`.
fn layer(path: &Path) -> String {
    path.iter().next().unwrap().to_string_lossy().trim_end_matches(".rs").to_owned()
}

/// Names that stand behind `crate::` in the code: one after it, or each of a `{...}` list.
fn used(code: &str) -> Vec<String> {
    let head =
        |text: &str| -> String { text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect() };
    let mut out = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            None => out.push(head(rest)),
            Some(list) => {
                let mut depth = 1;
                let mut item = String::new();
                for c in list.chars() {
                    match c {
                        '{' => depth += 1,
                        '}' => depth -= 1,
                        _ => {}
                    }
                    if depth == 0 || (depth == 1 && c == ',') {
                        out.push(head(&item));
                        item.clear();
                    } else {
                        item.push(c);
                    }
                    if depth == 0 {
                        break;
                    }
                }
            }
        }
    }
    out.retain(|n| !n.is_empty());
    out
}

/// Whether a word stands in code on its own.
fn names(code: &str, word: &str) -> bool {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    code.match_indices(word).any(|(at, _)| {
        let (before, after) = (code[..at].chars().next_back(), code[at + word.len()..].chars().next());
        !part(before) && (word.ends_with('!') || !part(after))
    })
}

#[test]
fn only_allowed_edges() {
    let may: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    let mut edges: BTreeMap<(String, String), String> = BTreeMap::new();
    let mut seen = 0;
    for (path, _, code) in sources() {
        let from = layer(&path);
        for to in used(&code).into_iter().filter(|to| may.contains_key(to.as_str()) && *to != from) {
            seen += 1;
            edges.entry((from.clone(), to)).or_insert_with(|| path.display().to_string());
        }
        assert!(
            may.contains_key(from.as_str()) || matches!(from.as_str(), "lib" | "main"),
            "{from} is a layer without a place"
        );
    }
    assert!(seen > 50, "the edges were not found");
    let hidden: Vec<_> =
        sources().into_iter().filter(|(_, _, code)| code.contains("super::super::super")).map(|(p, ..)| p).collect();
    assert!(hidden.is_empty(), "an edge written as super::super:: is not seen here: {hidden:?}");
    let forbidden: Vec<_> = edges
        .iter()
        .filter(|((from, to), _)| may.get(from.as_str()).is_some_and(|m| !m.contains(&to.as_str())))
        .collect();
    assert!(forbidden.is_empty(), "{forbidden:#?}");
}

#[test]
fn gix_is_named_in_the_store_alone() {
    let naming: Vec<_> = sources().into_iter().filter(|(_, _, code)| names(code, "gix")).map(|(p, ..)| p).collect();
    assert!(naming.iter().any(|p| p.starts_with("store")), "the store uses gix");
    let elsewhere: Vec<_> = naming.iter().filter(|p| !p.starts_with("store")).collect();
    assert!(elsewhere.is_empty(), "{elsewhere:?}");
}

#[test]
fn only_the_command_line_prints() {
    for (path, _, code) in sources().into_iter().filter(|(p, ..)| layer(p) != "cli") {
        for word in PRINTING {
            assert!(!names(&code, word), "{word} in {}", path.display());
        }
        for word in ["stdout", "stderr"] {
            assert!(!names(&code, word), "{word} in {}", path.display());
        }
    }
}

#[test]
fn only_the_command_line_reads_clock_and_environment() {
    for (path, _, code) in sources().into_iter().filter(|(p, ..)| layer(p) != "cli") {
        for word in [
            "env::var",
            "env::var_os",
            "env::vars",
            "Timestamp::now",
            "Zoned::now",
            "SystemTime::now",
            "TimeZone::system",
        ] {
            assert!(!names(&code, word), "{word} in {}", path.display());
        }
    }
}

#[test]
fn every_source_says_what_it_is() {
    for (path, text, _) in sources() {
        assert!(text.starts_with("//! "), "{} does not begin with its `//!`", path.display());
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        assert!(!name.starts_with("util"), "{}", path.display());
    }
}

#[test]
fn the_reader_of_sources_sees_what_it_must() {
    let code = code_of(
        "use crate::store::Id; // crate::cli\nlet a = \"crate::cli \\\" \"; let c = '\"'; r#\"x\"#; crate::{schema::A, slip::{B, C}, stats};\nlet b = '\\''; gixx(); /* gix */",
    );
    assert_eq!(used(&code), ["store", "schema", "slip", "stats"]);
    assert!(!names(&code, "gix"));
    assert!(
        names("let x = gix::open();", "gix") && names("println!(1)", "println!") && !names("println!(1)", "print!")
    );
    assert!(!names("eprintln!()", "println!"));
}
