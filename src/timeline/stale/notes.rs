//! What a record notes of a measured value beside its number: that it had always been so, that it was stale already.

use super::Cause;
use crate::schema::Schema;
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
