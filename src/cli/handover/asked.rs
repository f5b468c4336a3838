//! What one is asked before a handover is written, and what is refused where nobody is asked.

use super::WITHOUT_HELP;
use crate::cli::ui::Ui;
use crate::garage::{Error, Outgoing, Result};

/// What is edited and not saved is not in the record: a mark of what is private could be among it.
pub(super) fn refuse_unsaved(unsaved: &[String]) -> Result<()> {
    let Some(first) = unsaved.first() else { return Ok(()) };
    let first = unsaved.iter().find(|path| *path == "car.toml").unwrap_or(first);
    let message = format!("{first} has edits not saved, which would not count here; nothing was written");
    Err(Error::usage(message, "slipbook sheet --save first, or --yes to hand over without them"))
}

/// Where nobody can be asked, people's words go out only on a clear word.
pub(super) fn refuse_unread(still: &Outgoing) -> Result<()> {
    let none = still.names.is_empty() && still.addresses.is_empty() && still.phones.is_empty();
    if none && still.notes == 0 && still.private.is_empty() && still.other_files.is_empty() {
        return Ok(());
    }
    let message = "what is listed would go to whoever gets the file, and nobody is here to ask; nothing was written";
    Err(Error::usage(message, "--yes if it may go, or --without names,phones,notes"))
}

/// What one is asked on a terminal; `keep` keeps everything, and no other answer does: what goes to a stranger cannot be
/// called back. What is not `understood` is asked again.
pub(super) fn asked(ui: &mut Ui, understood: &dyn Fn(&[String]) -> Result<()>) -> Result<Vec<String>> {
    let mut again = "Keep all of it, take something out (names, phones, notes, private, an area), or\nstop? keep, what to take out, or stop [stop]".to_owned();
    loop {
        let answer = ui.ask(&again).unwrap_or_else(|| "stop".to_owned());
        again = match meant(&answer, understood)? {
            Meant::These(wanted) => return Ok(wanted),
            Meant::Again(question) => question,
        };
    }
}

/// What an answer means.
#[derive(Debug, PartialEq, Eq)]
enum Meant {
    /// These are left out.
    These(Vec<String>),
    /// It must be asked again, with this question.
    Again(String),
}

/// What an answer says is to be left out.
fn meant(answer: &str, understood: &dyn Fn(&[String]) -> Result<()>) -> Result<Meant> {
    let words = match answer.trim().to_lowercase().as_str() {
        "keep" | "keep all" | "k" => return Ok(Meant::These(Vec::new())),
        "" | "stop" | "s" | "q" | "quit" | "no" | "n" => {
            return Err(Error::usage("nothing was written", "slipbook handover --help"));
        }
        "yes" | "y" => return Ok(Meant::Again("That can be taken two ways: keep, or stop? [stop]".to_owned())),
        words => words.split(',').map(|w| w.trim().to_owned()).collect::<Vec<_>>(),
    };
    let unknown: Vec<String> = words
        .iter()
        .filter(|w| w.is_empty() || understood(std::slice::from_ref(w)).is_err())
        .map(|w| format!("`{w}`"))
        .collect();
    if unknown.is_empty() || !words.contains(&String::new()) && understood(&words).is_ok() {
        return Ok(Meant::These(words));
    }
    let unknown = unknown.join(", ");
    Ok(Meant::Again(format!("{unknown} is not understood. Take out {WITHOUT_HELP}; keep, or stop? [stop]")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_plain_answer_keeps_everything() {
        let known = ["names", "phones", "front wheels, tires, brakes"];
        let understood =
            |words: &[String]| match known.contains(&words.join(", ").as_str()) || words == ["names", "phones"] {
                true => Ok(()),
                false => Err(Error::usage("", "")),
            };
        let meant = |answer: &str| meant(answer, &understood);
        for answer in ["keep", "K"] {
            assert_eq!(meant(answer).unwrap(), Meant::These(Vec::new()), "{answer}");
        }
        assert_eq!(meant("names, phones").unwrap(), Meant::These(vec!["names".to_owned(), "phones".to_owned()]));
        let heading = ["front wheels", "tires", "brakes"].map(str::to_owned).to_vec();
        assert_eq!(meant("Front wheels, tires, brakes").unwrap(), Meant::These(heading));
        for (answer, said) in [("y", "two ways"), ("Yes", "two ways"), ("eninge", "`eninge` is not")] {
            assert!(matches!(meant(answer).unwrap(), Meant::Again(q) if q.contains(said)), "{answer}");
        }
        for answer in [",", "names,,phones", "names,eninge"] {
            let again = meant(answer).unwrap();
            assert!(matches!(&again, Meant::Again(q) if !q.contains("`names`")), "{answer}: {again:?}");
        }
        for answer in ["", "stop", "q", "n", "No"] {
            assert!(meant(answer).is_err(), "{answer}");
        }
    }
}
