//! The README's examples, run one after another as a newcomer would.

mod common;

use common::Garage;

/// Splits a line as a shell does, as far as the README needs it: spaces, and double quotes.
fn words(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => out.push(String::new()),
            c => out.last_mut().unwrap().push(c),
        }
    }
    out.retain(|w| !w.is_empty());
    out
}

#[test]
fn the_examples_work_in_their_order() {
    let readme = include_str!("../README.md");
    let commands: Vec<&str> = readme
        .split("```console\n")
        .skip(1)
        .flat_map(|block| block.split("```").next().unwrap().lines())
        .map(|line| line.strip_prefix("$ slipbook ").expect("each line of an example is a command"))
        .collect();
    assert!(commands.len() >= 12, "{} examples", commands.len());
    let garage = Garage::new();
    for (i, command) in commands.iter().enumerate() {
        // Twenty minutes from one to the next.
        garage.at(&format!("2026-08-22T{:02}:{:02}:00", 9 + i / 3, 20 * (i % 3)));
        let words = words(command);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        garage.ok(&words);
        garage.tidy("wren", command);
    }
    let history = garage.ok(&["history"]);
    for told in
        ["v3", "one setup with v1", "limiter lowered 0.25 in (1.00 -> 0.75)", "why: touches before the axle moves"]
    {
        assert!(history.contains(told), "{told} in\n{history}");
    }
}

#[test]
fn the_two_commands_are_there() {
    let readme = include_str!("../README.md");
    assert!(readme.contains("    cargo run --release -- tour\n") && readme.contains("    cargo test\n"));
    assert!(include_str!("../.ci/run").contains("cargo test"), "CI calls the command that passes the tests");
}
