//! Which paths a book may hold: plain relative ones that mean the same on every system.
use super::StoreError;
use crate::text::{is_device, is_invisible};

/// Names a path may not have a part of, on systems that ignore case or trailing dots.
const RESERVED: &[&str] = &[".git", "git~1"];

/// Checks a path that is to be read or written.
pub(super) fn check(path: &str) -> Result<(), StoreError> {
    match problem(path) {
        None => Ok(()),
        Some(reason) => Err(StoreError::BadPath { path: path.escape_debug().to_string(), reason: reason.to_owned() }),
    }
}

fn problem(path: &str) -> Option<&'static str> {
    if path.is_empty() {
        return Some("it is empty");
    }
    if path.len() > 1024 {
        return Some("it is longer than 1024 bytes");
    }
    if path.starts_with('/') {
        return Some("it starts at the root; paths are relative to the book");
    }
    // Some file systems drop what is invisible from names, so that `.g\u{200c}it` would be `.git` there.
    if path.chars().any(|c| c.is_control() || is_invisible(c)) {
        return Some("it has a control or invisible character");
    }
    if path.contains(['\\', ':', '<', '>', '"', '|', '?', '*']) {
        return Some("it has one of \\ : < > \" | ? *, which not every system can store");
    }
    path.split('/').find_map(part_problem)
}

fn part_problem(part: &str) -> Option<&'static str> {
    if part.is_empty() {
        return Some("one of its parts is empty");
    }
    if part == "." || part == ".." {
        return Some("a part is `.` or `..`");
    }
    let bare = part.trim_end_matches(['.', ' ']).to_ascii_lowercase();
    if RESERVED.contains(&bare.as_str()) {
        return Some("a part is the repository's own folder");
    }
    if part.ends_with(['.', ' ']) {
        return Some("a part ends in a dot or a space");
    }
    if bare.starts_with(".gitmodules") || bare == ".gitattributes" {
        return Some("git would act on a file of that name");
    }
    let stem = bare.split('.').next().unwrap_or_default();
    if is_device(stem) {
        return Some("a part is a device name on some systems");
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ordinary_paths_pass() {
        for path in ["setup.toml", "days/2026/05-16-willow.toml", "a b.toml", "é.toml", "comb.toml", "com10.toml"] {
            assert!(check(path).is_ok(), "{path}");
        }
    }

    #[test]
    fn dangerous_paths_are_named() {
        for path in [
            "",
            "/etc/passwd",
            "..",
            "../x",
            "a/../b",
            "a//b",
            "a/",
            "./a",
            ".git",
            ".GIT/hooks/x",
            "days/.Git/config",
            ".git./x",
            ".git /x",
            "git~1/x",
            "a\\b",
            "c:x",
            "a\nb",
            "a\u{0}b",
            ".g\u{200c}it/x",
            ".g\u{ad}it/x",
            "a\u{202e}b",
            "a\u{2066}b",
            "a\u{e0041}b",
            ".gitmodules",
            ".gitattributes",
            "nul.toml",
            "COM1.toml",
            "lpt9",
            "com\u{b9}.x",
            "x.",
            "a\u{7f}",
        ] {
            assert!(check(path).is_err(), "{path:?}");
        }
    }
}
