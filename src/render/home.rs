//! The first screen: what is on the car, what is not safe yet, and what may come next.

use super::layout::{Head, Page, counted};
use crate::garage::{CarName, Home, LastCopy, Since};
use crate::trial::Trial;
use serde_json::{Value as Json, json};

/// A command worth typing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Next {
    /// As it is typed.
    pub command: String,
    /// What it does.
    pub what: &'static str,
}

/// What is told.
#[derive(Debug, Clone, Default)]
pub struct HomeTold<'a> {
    /// The garage's folder.
    pub garage: String,
    /// Its cars.
    pub cars: &'a [CarName],
    /// The folder of the current one.
    pub current: Option<String>,
    /// The folder of the one at hand, where it is of the garage.
    pub here: Option<String>,
    /// The book at hand; none where there is no car, or which one is not known, or it cannot be opened.
    pub home: Option<&'a Home>,
    /// The book at hand cannot be opened.
    pub broken: bool,
    /// The last copy of a book that cannot be opened.
    pub copy_of_broken: Option<LastCopy>,
    /// How many days ago the last copy was made.
    pub copy_days: Option<i32>,
    /// Labels of measured values that are older than what moves them.
    pub stale: Vec<String>,
    /// Trials that are open.
    pub open: Vec<Trial>,
    /// The likeliest commands.
    pub next: Vec<Next>,
}

/// Cars named before the rest is counted.
const CARS_NAMED: usize = 12;

/// As text.
pub fn text(head: &Head, told: &HomeTold) -> String {
    let mut page = match told.home {
        Some(home) => on_car(head, home),
        None if told.broken => head.page("this book cannot be read; the reason is told below"),
        None if told.cars.is_empty() => head.page("no car yet"),
        None => head.page("which car? None is the current one"),
    };
    if let Some(home) = told.home {
        if let Some(words) = open(head, &told.open) {
            page.wrap("trial    ", &words);
        }
        if !told.stale.is_empty() {
            page.wrap("stale    ", &told.stale.join(", "));
        }
        let unsaved: Vec<String> = home.unsaved.iter().map(|(path, what)| format!("{path} {what} by hand")).collect();
        if !unsaved.is_empty() {
            page.wrap("unsaved  ", &unsaved.join(", "));
        }
        copy(head, &mut page, home.copy.as_ref(), told.copy_days, Some(home.since));
    } else if told.broken {
        copy(head, &mut page, told.copy_of_broken.as_ref(), told.copy_days, None);
    }
    if told.home.is_some() && told.here.is_none() {
        page.wrap("stands   ", "outside the garage: only commands typed in its folder find it");
    }
    page.wrap("garage   ", &told.garage);
    if !told.cars.is_empty() {
        page.wrap("cars     ", &cars(told));
    }
    page.gap();
    for (n, next) in told.next.iter().enumerate() {
        let label = if n == 0 { "next     " } else { "         " };
        if label.len() + next.command.chars().count() <= page.width() {
            page.with_note(label, &next.command, next.what);
        } else {
            // A command broken into lines cannot be taken over from the screen.
            page.line(format!("{label}{}", next.command));
            page.wrap("           ", next.what);
        }
    }
    page.text()
}

/// "clamps" open since Aug 22 10:00, v15 against v16: slipbook trial status
fn open(head: &Head, open: &[Trial]) -> Option<String> {
    match open {
        [] => None,
        [t] => Some(format!(
            "\"{}\" open since {}, {} against {}: slipbook trial status",
            t.name,
            head.when(t.started),
            t.a.version,
            t.b.version
        )),
        all => {
            let names: Vec<String> = all.iter().map(|t| format!("\"{}\"", t.name)).collect();
            Some(format!("{} open: {}: slipbook trial", all.len(), names.join(", ")))
        }
    }
}

fn on_car(head: &Head, home: &Home) -> Page {
    let runs = match home.runs {
        0 => "not run yet".to_owned(),
        n => counted(n, "run"),
    };
    let mut page = head.page(&format!("{} on the car since {}, {runs}", home.version, head.when(home.began)));
    page.wrap("         ", &home.words.join(", "));
    if let Some(why) = &home.why {
        page.wrap("         ", &format!("why: {why}"));
    }
    if let Some(at) = home.last_run {
        page.wrap("last run ", &head.when(at));
    }
    page
}

fn copy(head: &Head, page: &mut Page, last: Option<&LastCopy>, days: Option<i32>, since: Option<Since>) {
    let Some(last) = last else {
        let all = match since {
            Some(Since::Records(n)) => format!(": {} on this drive alone", counted(n, "record")),
            Some(Since::Over(n)) => format!(": over {n} records on this drive alone"),
            _ => String::new(),
        };
        page.wrap("copy     ", &format!("never made{all}"));
        return;
    };
    let since = match since {
        Some(Since::Records(0)) => ", nothing new since".to_owned(),
        Some(Since::Records(n)) => format!(", {} since", counted(n, "record")),
        Some(Since::Over(n)) => format!(", over {n} records since"),
        Some(Since::NotThere) => ", of another record than this one".to_owned(),
        None => String::new(),
    };
    let ago = days.map(ago).unwrap_or_default();
    page.wrap("copy     ", &format!("{ago} ({}){since}", head.when(last.at)));
    page.wrap("         ", &last.to);
}

/// "today", "12 days ago", "3 months ago".
fn ago(days: i32) -> String {
    match days {
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        2..60 => format!("{days} days ago"),
        _ => format!("{} months ago", days / 30),
    }
}

fn cars(told: &HomeTold) -> String {
    let is = |folder: &str, which: &Option<String>| which.as_deref() == Some(folder);
    let one = |car: &CarName| match (is(&car.folder, &told.here), is(&car.folder, &told.current)) {
        (_, true) => format!("{} (current)", car.name),
        (true, false) => format!("{} (here)", car.name),
        _ => car.name.clone(),
    };
    let mut all: Vec<String> = told.cars.iter().map(one).collect();
    let more = all.len().saturating_sub(CARS_NAMED);
    all.truncate(CARS_NAMED);
    if more > 0 {
        all.push(format!("{more} more"));
    }
    all.join(", ")
}

/// As JSON.
pub fn json(head: &Head, told: &HomeTold) -> Json {
    let home = told.home;
    let since = home.map(|h| match h.since {
        Since::Records(n) => (Some(n), false),
        Since::Over(n) => (Some(n), true),
        Since::NotThere => (None, false),
    });
    let last = home.map_or(told.copy_of_broken.as_ref(), |h| h.copy.as_ref());
    json!({
        "car": home.map(|_| &head.car).or(told.broken.then_some(&head.car)),
        "garage": told.garage,
        "cars": told.cars.iter().map(|c| json!({
            "folder": c.folder, "name": c.name, "current": told.current.as_ref() == Some(&c.folder),
        })).collect::<Vec<_>>(),
        "here": told.here,
        "opens": !told.broken,
        "version": home.map(|h| h.version.to_string()),
        "began": home.map(|h| h.began),
        "words": home.map(|h| &h.words),
        "why": home.and_then(|h| h.why.as_ref()),
        "runs": home.map(|h| h.runs),
        "last_run": home.and_then(|h| h.last_run),
        "open_trials": told.open.iter().map(|t| &t.name).collect::<Vec<_>>(),
        "stale": told.stale,
        "unsaved": home.map(|h| h.unsaved.iter().map(|(p, w)| json!({"path": p, "what": w})).collect::<Vec<_>>()),
        "copy": last.map(|c| json!({"at": c.at, "to": c.to, "tip": c.tip.to_string(), "days_ago": told.copy_days})),
        "records_since": since.and_then(|s| s.0),
        "more_since": since.map(|s| s.1),
        "next": told.next.iter().map(|n| json!({"command": n.command, "what": n.what})).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_long_ago() {
        let said: Vec<String> = [0, 1, 2, 59, 60, 400].into_iter().map(ago).collect();
        assert_eq!(said, ["today", "yesterday", "2 days ago", "59 days ago", "2 months ago", "13 months ago"]);
    }
}
