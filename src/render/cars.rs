//! The cars of a garage.

use super::layout::{Head, counted};
use serde_json::{Value as Json, json};

/// One car of the garage.
#[derive(Debug, Clone)]
pub struct CarTold {
    /// Folder.
    pub folder: String,
    /// Name; the reason instead where the book cannot be opened.
    pub name: Result<String, String>,
    /// Chassis template.
    pub template: String,
    /// The version on the car.
    pub version: String,
    /// When the last thing was recorded.
    pub last: Option<crate::slip::Moment>,
    /// It is the current one.
    pub current: bool,
}

/// As text. `head.car` is the garage's folder.
pub fn text(head: &Head, cars: &[CarTold]) -> String {
    let mut page = head.page(&counted(cars.len(), "car"));
    page.gap();
    let mut rows = Vec::new();
    for car in cars {
        let last = car.last.map(|at| format!("last record {}", head.when(at))).unwrap_or_default();
        let current = if car.current { "current" } else { "" };
        let Ok(name) = &car.name else { continue };
        rows.push(vec![
            name.clone(),
            car.folder.clone(),
            car.template.clone(),
            car.version.clone(),
            last,
            current.to_owned(),
        ]);
    }
    page.table(&rows, &[]);
    // A reason is a sentence: it has the whole width, not what the columns leave.
    for car in cars {
        if let Err(why) = &car.name {
            let current = if car.current { " (current)" } else { "" };
            page.wrap("", &format!("{}{current}  cannot be opened: {why}", car.folder));
        }
    }
    if cars.is_empty() {
        page.line("no car yet: slipbook new NAME");
    } else {
        page.gap();
        page.line("make another one current: slipbook cars NAME");
    }
    page.text()
}

/// As JSON.
pub fn json(garage: &str, cars: &[CarTold]) -> Json {
    let one = |c: &CarTold| {
        let (name, error) = match &c.name {
            Ok(n) => (Some(n), None),
            Err(e) => (None, Some(e)),
        };
        json!({"folder": c.folder, "name": name, "error": error, "template": c.template, "version": c.version, "last": c.last, "current": c.current})
    };
    json!({ "garage": garage, "cars": cars.iter().map(one).collect::<Vec<_>>() })
}
