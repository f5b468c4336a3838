//! Putting a day's text right: single values of a run or of the day, the rest of the text stays as it is.

use super::{Day, Reading, Run, with_facts};
use crate::schema::RunWords;
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, Value};

/// Why a text could not be edited.
pub type EditError = String;

/// The text with runs as they are right, each beside what it was. Comments and what is equal stay as they are.
pub fn edit_runs(words: &RunWords, text: &str, runs: &[(&Run, &Run)]) -> Result<String, EditError> {
    if runs.is_empty() {
        return Ok(text.to_owned());
    }
    let mut doc = document(text)?;
    for (was, run) in runs {
        edit_run(words, run_table(&mut doc, &was.id)?, was, run)?;
    }
    Ok(doc.to_string())
}

fn edit_run(words: &RunWords, table: &mut Table, was: &Run, run: &Run) -> Result<(), EditError> {
    put(table, "at", (was.at != run.at).then(|| clock(&run.at.civil().strftime("%H:%M:%S").to_string())))?;
    let texts = [
        ("on", Some(&was.on), Some(&run.on)),
        ("setup", Some(&was.setup), Some(&run.setup)),
        ("setup_was", was.setup_was.as_ref(), run.setup_was.as_ref()),
        ("lane", was.lane.as_ref(), run.lane.as_ref()),
        ("round", was.round.as_ref(), run.round.as_ref()),
        ("why_not", was.why_not.as_ref(), run.why_not.as_ref()),
        ("staged", was.staged.as_ref(), run.staged.as_ref()),
        ("psi_taken", was.psi_taken.as_ref(), run.psi_taken.as_ref()),
        ("note", was.note.as_ref(), run.note.as_ref()),
    ];
    for (key, _, new) in texts.into_iter().filter(|(_, old, new)| old != new) {
        match new {
            Some(new) => put(table, key, Some(Ok(Value::from(new.as_str()))))?,
            None => drop(table.remove(key)),
        }
    }
    for d in &words.number {
        match (was.numbers.get(&d.name), run.numbers.get(&d.name)) {
            (old, Some(new)) if old != Some(new) => {
                put(table, &d.name, Some(number(&new.show(d.decimals, 6))))?;
                if old.is_none() {
                    remark(table, &d.name, &d.unit);
                }
            }
            (Some(_), None) => drop(table.remove(&d.name)),
            _ => {}
        }
    }
    if was.clean_to != run.clean_to {
        match run.clean_to {
            Some(to) => put(table, "clean_to", Some(number(&to.to_string())))?,
            None => drop(table.remove("clean_to")),
        }
    }
    if was.did != run.did {
        match run.did.is_empty() {
            false => put(table, "did", Some(Ok(Value::Array(run.did.iter().map(String::as_str).collect()))))?,
            true => drop(table.remove("did")),
        }
    }
    if was.shifts != run.shifts {
        let shifts = run.shifts.iter().map(|n| number(&n.to_string())).collect::<Result<Vec<Value>, _>>()?;
        match shifts.is_empty() {
            false => put(table, "shifts", Some(Ok(Value::Array(shifts.into_iter().collect()))))?,
            true => drop(table.remove("shifts")),
        }
        if was.shifts.is_empty() {
            remark(table, "shifts", "rpm");
        }
    }
    Ok(())
}

/// The text without the run of that id.
pub fn remove_run(text: &str, id: &str) -> Result<String, EditError> {
    let mut doc = document(text)?;
    let runs = runs(&mut doc)?;
    let at = runs.iter().position(|t| is(t, id)).ok_or_else(|| no_run(id))?;
    runs.remove(at);
    if runs.is_empty() {
        doc.remove("run");
    }
    Ok(doc.to_string())
}

/// The text with what is said of the day itself as `day` says it: date, track, offset, facts, readings' times.
pub fn edit_day(text: &str, was: &Day, day: &Day) -> Result<String, EditError> {
    let head = |d: &Day| Day { runs: Vec::new(), ..d.clone() };
    if head(was) == head(day) {
        return Ok(text.to_owned());
    }
    let mut doc = document(text)?;
    let table = doc.as_table_mut();
    put(table, "date", (was.date != day.date).then(|| clock(&day.date.to_string())))?;
    put(table, "track", (was.track != day.track).then(|| Ok(Value::from(day.track.as_str()))))?;
    if was.offset_seconds != day.offset_seconds {
        put(table, "utc_offset", Some(Ok(Value::from(day.offset_text()))))?;
    }
    // Readings stand in the day as in the file.
    for (i, (_, new)) in was.readings.iter().zip(&day.readings).enumerate().filter(|(_, (a, b))| a.at != b.at) {
        let tables = doc.get_mut("reading").and_then(Item::as_array_of_tables_mut);
        let table = tables.and_then(|t| t.get_mut(i)).ok_or("each reading stands under a line [[reading]]")?;
        put(table, "at", Some(clock(&new.at.strftime("%H:%M:%S").to_string())))?;
    }
    Ok(with_facts(&doc.to_string(), day))
}

/// The text with a reading in the place of those at these places of the day, the first of them; comments stay.
pub fn replace_readings(
    words: &RunWords,
    text: &str,
    places: &[usize],
    reading: &Reading,
) -> Result<String, EditError> {
    let Some((first, rest)) = places.split_first() else { return Ok(text.to_owned()) };
    let mut doc = document(text)?;
    let table = readings(&mut doc)?.get_mut(*first).ok_or_else(no_reading)?;
    put(table, "at", Some(clock(&reading.at.strftime("%H:%M:%S").to_string())))?;
    for d in &words.reading {
        match reading.numbers.get(&d.name) {
            Some(n) => {
                let had = table.contains_key(&d.name);
                put(table, &d.name, Some(number(&n.show(d.decimals, 6))))?;
                if !had {
                    remark(table, &d.name, &d.unit);
                }
            }
            None => drop(table.remove(&d.name)),
        }
    }
    for (key, text) in [("sun", &reading.sun), ("by", &reading.by), ("report", &reading.report)] {
        match text {
            Some(text) => put(table, key, Some(Ok(Value::from(text.as_str()))))?,
            None => drop(table.remove(key)),
        }
    }
    remove_readings(&doc.to_string(), rest)
}

/// The text without the readings at these places of the day.
pub fn remove_readings(text: &str, places: &[usize]) -> Result<String, EditError> {
    if places.is_empty() {
        return Ok(text.to_owned());
    }
    let mut doc = document(text)?;
    let tables = readings(&mut doc)?;
    if places.iter().any(|p| *p >= tables.len()) {
        return Err(no_reading());
    }
    let mut at = 0;
    tables.retain(|_| {
        at += 1;
        !places.contains(&(at - 1))
    });
    if tables.is_empty() {
        doc.remove("reading");
    }
    Ok(doc.to_string())
}

fn no_reading() -> EditError {
    "there is no such reading in this day".to_owned()
}

fn readings(doc: &mut DocumentMut) -> Result<&mut ArrayOfTables, EditError> {
    let tables = doc.get_mut("reading").and_then(Item::as_array_of_tables_mut);
    tables.ok_or_else(|| "each reading stands under a line [[reading]]".to_owned())
}

pub(super) fn document(text: &str) -> Result<DocumentMut, EditError> {
    text.parse::<DocumentMut>().map_err(|e| e.message().to_owned())
}

fn runs(doc: &mut DocumentMut) -> Result<&mut ArrayOfTables, EditError> {
    let tables = doc.get_mut("run").and_then(Item::as_array_of_tables_mut);
    tables.ok_or_else(|| "each run stands under a line [[run]]".to_owned())
}

fn run_table<'a>(doc: &'a mut DocumentMut, id: &str) -> Result<&'a mut Table, EditError> {
    runs(doc)?.iter_mut().find(|t| is(t, id)).ok_or_else(|| no_run(id))
}

fn is(table: &Table, id: &str) -> bool {
    table.get("id").and_then(Item::as_str) == Some(id)
}

fn no_run(id: &str) -> EditError {
    format!("there is no run {id} in this day")
}

fn number(text: &str) -> Result<Value, EditError> {
    text.parse().map_err(|_| format!("{text} is no number"))
}

fn clock(text: &str) -> Result<Value, EditError> {
    text.parse().map_err(|_| format!("{text} is no time"))
}

/// Sets a value; the comments above it and what stands behind it (its unit) stay.
fn put(table: &mut Table, key: &str, value: Option<Result<Value, EditError>>) -> Result<(), EditError> {
    let Some(mut value) = value.transpose()? else { return Ok(()) };
    match table.get_mut(key) {
        // Comments above a key are the key's own: to insert it anew would drop them.
        Some(item) => {
            if let Some(old) = item.as_value() {
                *value.decor_mut() = old.decor().clone();
            }
            *item = Item::Value(value);
        }
        None => drop(table.insert(key, Item::Value(value))),
    }
    Ok(())
}

fn remark(table: &mut Table, key: &str, unit: &str) {
    if let Some(value) = table.get_mut(key).and_then(Item::as_value_mut).filter(|_| !unit.is_empty()) {
        value.decor_mut().set_suffix(format!(" # {unit}"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Num, schema};
    use crate::slip::{read_day_text, write_day};

    const DAY: &str = "# a page\nformat = 1\ndate = 2026-05-16\ntrack = \"Osier Flats\"\nfinish = 1320 # ft\n\
        utc_offset = \"-05:00\"\n\n[[reading]]\nat = 09:30:00\ntemperature = 71 # degF\n\n# the first\n[[run]]\nid = \"aaaaaaaa\"\n\
        at = 10:00:00\non = \"v1\"\nsetup = \"x\"\nft60 = 1.597 # s\n\n[[run]]\nid = \"bbbbbbbb\"\nat = 11:00:00\n\
        on = \"v1\"\nsetup = \"x\"\n";

    fn read(text: &str) -> Day {
        read_day_text(&schema().run, text).expect("a day")
    }

    #[test]
    fn only_what_was_wrong_is_written_anew() {
        let was = read(DAY).runs[0].clone();
        let mut run = was.clone();
        run.numbers.insert("ft60".to_owned(), Num::parse("1.579").unwrap());
        (run.lane, run.setup_was) = (Some("left".to_owned()), Some("x".to_owned()));
        let text = edit_runs(&schema().run, DAY, &[(&was, &run)]).unwrap();
        assert!(text.contains("# the first") && text.contains("ft60 = 1.579 # s"), "{text}");
        assert_eq!(read(&text).runs[0], run);
        assert_eq!(edit_runs(&schema().run, &text, &[(&run, &was)]).unwrap(), DAY, "there and back");
    }

    #[test]
    fn comments_above_a_value_stay() {
        let text = DAY
            .replace("track = ", "# the left gate\ntrack = ")
            .replacen("on = \"v1\"\nsetup", "# Pell said v1\non = \"v1\"\n\n# linked by hand\nsetup", 1)
            .replace("ft60 = ", "# read twice\nft60 = ");
        let was = read(&text);
        let mut day = was.clone();
        day.track = "Tern Hollow".to_owned();
        let mut run = was.runs[0].clone();
        (run.on, run.setup) = ("v2".to_owned(), "y".to_owned());
        run.numbers.insert("ft60".to_owned(), Num::parse("1.579").unwrap());
        let day_right = edit_day(&text, &was, &day).unwrap();
        let new = edit_runs(&schema().run, &day_right, &[(&was.runs[0], &run)]).unwrap();
        let wanted = text
            .replace("Osier Flats", "Tern Hollow")
            .replacen("on = \"v1\"", "on = \"v2\"", 1)
            .replacen("setup = \"x\"", "setup = \"y\"", 1)
            .replace("1.597", "1.579");
        assert_eq!(new, wanted);
    }

    #[test]
    fn shift_points_are_put_right() {
        let was = read(DAY).runs[0].clone();
        let mut run = was.clone();
        run.shifts = vec![Num::parse("7200").unwrap(), Num::parse("7150").unwrap()];
        let text = edit_runs(&schema().run, DAY, &[(&was, &run)]).unwrap();
        assert!(text.contains("shifts = [7200, 7150] # rpm"), "{text}");
        assert_eq!(read(&text).runs[0], run);
        assert_eq!(edit_runs(&schema().run, &text, &[(&run, &was)]).unwrap(), DAY);
    }

    #[test]
    fn a_reading_put_in_the_place_of_another() {
        let text = DAY.replace(
            "\n# the first",
            "\n# by the trailer\n[[reading]]\nat = 09:45:00\n# twice\nhumidity = 50 # %\nsun = \"sun\"\n\n# the first",
        );
        let mut new = read(&text).readings[1].clone();
        new.numbers.insert("humidity".to_owned(), Num::int(52));
        new.numbers.insert("temperature".to_owned(), Num::int(84));
        new.sun = None;
        let one = replace_readings(&schema().run, &text, &[1], &new).unwrap();
        let again = read(&one);
        assert_eq!((again.readings.len(), &again.readings[1], &again.readings[0]), (2, &new, &read(&text).readings[0]));
        for kept in ["# by the trailer", "# twice\nhumidity = 52 # %", "temperature = 84.0 # degF", "# the first"] {
            assert!(one.contains(kept), "{kept}: {one}");
        }
        let both = replace_readings(&schema().run, &text, &[0, 1], &new).unwrap();
        assert_eq!(read(&both).readings, [new]);
        let none = remove_readings(&text, &[0, 1]).unwrap();
        assert_eq!((read(&none).readings.len(), read(&none).runs), (0, read(&text).runs));
        assert_eq!(remove_readings(&text, &[1]).unwrap().replace("\n\n\n", "\n\n"), DAY);
        assert!(remove_readings(&text, &[2]).is_err() && remove_readings(&none, &[0]).is_err());
        assert!(replace_readings(&schema().run, &text, &[2], &read(&text).readings[0]).is_err());
    }

    #[test]
    fn a_run_taken_out_leaves_the_others() {
        let text = remove_run(DAY, "aaaaaaaa").unwrap();
        assert_eq!(read(&text).runs.len(), 1);
        assert!(remove_run(&text, "aaaaaaaa").is_err());
        assert_eq!(read(&remove_run(&text, "bbbbbbbb").unwrap()).runs.len(), 0);
    }

    #[test]
    fn a_day_has_its_head_and_its_readings_put_right() {
        let was = read(DAY);
        let mut day = was.clone();
        day.elevation_ft = Num::parse("640");
        day.date = "2026-05-17".parse().unwrap();
        day.readings[0].at = "10:30:00".parse().unwrap();
        let text = edit_day(DAY, &was, &day).unwrap();
        let again = read(&text);
        assert_eq!((again.elevation_ft, again.date, &again.readings), (day.elevation_ft, day.date, &day.readings));
        assert!(text.contains("elevation = 640 # ft") && text.starts_with("# a page"), "{text}");
        let back = edit_day(&text, &day, &was).unwrap();
        assert_eq!(read(&back), was);
        assert!(write_day(&schema().run, &was, &[]).contains("Osier"));
    }
}
