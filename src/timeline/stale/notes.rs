//! What a record notes of a measured value beside its number: that it had always been so, that it was stale already.

use super::Cause;
use crate::schema::{Field, Schema};
use crate::slip::Moment;

/// The word of a trailer `Measured: KEY always MOMENT`: as far as was known at that moment, it had always been so.
pub(super) const ALWAYS: &str = "always";

/// What a record notes of a value that has always been so.
pub fn always_so(path: &str, stated: Moment) -> String {
    format!("{path} {ALWAYS} {}", stated.iso())
}

/// The word of a trailer `Measured: KEY moved VERSION MOMENT FIELDS`: it was stale when the record began, since then.
const MOVED: &str = "moved";

/// What the first record of a book without its beginning notes of a value that was stale already: since when, and by which
/// fields. When it was taken is not in the book.
pub fn moved_before(path: &str, since: &Cause, fields: &[&str]) -> String {
    format!("{path} {MOVED} {} {} {}", since.version, since.at.iso(), fields.join(",")).trim_end().to_owned()
}

/// Reads what [`moved_before`] wrote, behind the path.
pub(super) fn read_moved(schema: &Schema, how: &str) -> Option<Cause> {
    let mut words = how.split(' ');
    words.next().filter(|w| *w == MOVED)?;
    let (version, at) = (words.next()?.parse().ok()?, words.next()?.parse().ok()?);
    let fields: Vec<String> = words.next().into_iter().flat_map(|f| f.split(',')).map(str::to_owned).collect();
    let label = |key: &String| Some(format!("{} changed", schema.field(key)?.label));
    let words: Vec<String> = fields.iter().filter_map(label).collect();
    let words = if words.is_empty() { vec!["what moves it was changed".to_owned()] } else { words };
    Some(Cause { version, at, fields, words })
}

/// What a record notes of a value, said again as this program says it, with only the fields that go along: the path alone
/// where what stands behind it is something else. `None` where it is of no such field.
pub fn noted_again(schema: &Schema, text: &str, goes: &dyn Fn(&Field) -> bool) -> Option<String> {
    let (path, how) = text.split_once(' ').unwrap_or((text, ""));
    let (field, slot) = schema.locate(path).filter(|(field, _)| goes(field))?;
    let path = schema.path(field, slot);
    let always = || Some(always_so(&path, how.strip_prefix(ALWAYS)?.strip_prefix(' ')?.parse().ok()?));
    let moved = || {
        let cause = read_moved(schema, how)?;
        let by = cause.fields.iter().map(String::as_str).filter(|key| schema.field(key).is_some_and(goes));
        Some(moved_before(&path, &cause, &by.collect::<Vec<_>>()))
    };
    Some(always().or_else(moved).unwrap_or(path))
}
