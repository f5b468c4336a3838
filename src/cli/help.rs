//! The help of the whole program, its commands grouped by where a racer stands.

use clap::Command;

/// Where a racer stands, and the commands for there.
const GROUPS: [(&str, &[&str]); 4] = [
    ("At the track", &["run", "air", "change", "check", "dial", "wrench", "oops"]),
    ("At home", &["day", "page", "runs", "history", "diff", "blame", "trial", "numbers", "revert"]),
    ("Putting it right", &["measure", "mend", "verify"]),
    (
        "The book",
        &["new", "cars", "part", "sheet", "fields", "import", "export", "copy", "handover", "receive", "join", "tour"],
    ),
];

/// The command with its subcommands listed in groups.
pub fn grouped(command: Command) -> Command {
    let mut list = String::new();
    for (title, names) in GROUPS {
        list.push_str(&format!("{title}:\n"));
        for name in names {
            let about = command.find_subcommand(name).and_then(Command::get_about).map(ToString::to_string);
            list.push_str(&format!("  {name:<9} {}\n", about.unwrap_or_default()));
        }
        list.push('\n');
    }
    list.push_str("More of one:  slipbook COMMAND --help");
    command.help_template("{about}\n\n{usage-heading} {usage}\n\n{after-help}\n\n{options}\n").after_help(list)
}
