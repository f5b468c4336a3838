//! What hands wrote beside a day's values: where each comment stands, and putting it there in another text of the day.

use super::edit::{EditError, document};
use std::collections::{BTreeMap, HashMap, HashSet};
use toml_edit::{Decor, DocumentMut, Item, Table};

/// A part of a day's text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Block {
    /// The day itself.
    Head,
    /// A reading: its time as written, and its place among those of one time.
    Reading(String, usize),
    /// A run: its id.
    Run(String),
}

/// A line of comment.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Comment {
    /// The part it stands in.
    pub block: Block,
    /// The key it stands at; none above the part's heading, for the day itself at the end of the text.
    pub key: Option<String>,
    /// It stands behind the value, not above the key.
    pub behind: bool,
    /// Its words, with the `#`.
    pub text: String,
}

/// The comments of a day's text, from its beginning to its end.
pub fn comments(text: &str) -> Result<Vec<Comment>, EditError> {
    let mut doc = document(text)?;
    let end = lines(doc.trailing().as_str());
    let mut out = Vec::new();
    each_block(&mut doc, &mut |block, table| {
        let mut push = |key: Option<&str>, behind: bool, all: Vec<String>| {
            let comment = |text| Comment { block: block.clone(), key: key.map(str::to_owned), behind, text };
            out.extend(all.into_iter().map(comment));
        };
        push(None, false, lines(table.decor().prefix().and_then(|p| p.as_str())));
        for (key, item) in table.iter() {
            let above = table.key(key).map(|k| lines(k.leaf_decor().prefix().and_then(|p| p.as_str())));
            push(Some(key), false, above.unwrap_or_default());
            let behind = item.as_value().map(|v| lines(v.decor().suffix().and_then(|s| s.as_str())));
            push(Some(key), true, behind.unwrap_or_default());
        }
    });
    out.extend(end.into_iter().map(|text| Comment { block: Block::Head, key: None, behind: false, text }));
    Ok(out)
}

/// Where a comment can stand: a part, and a key in it.
pub type Place = (Block, Option<String>);

/// The places of a day's text.
pub fn places(text: &str) -> Result<Vec<Place>, EditError> {
    let mut out = Vec::new();
    each_block(&mut document(text)?, &mut |block, table| {
        out.push((block.clone(), None));
        out.extend(table.iter().map(|(key, _)| (block.clone(), Some(key.to_owned()))));
    });
    Ok(out)
}

/// The text without the comments that are `gone`, and with those `wanted` put where they stand; what is there already is
/// not put twice. Those of a part or a key that is not there go as near as there is a place.
pub fn with_comments(text: &str, wanted: &[&Comment], gone: &HashSet<&Comment>) -> Result<String, EditError> {
    let there = comments(text)?;
    let known: HashSet<&Comment> = there.iter().collect();
    let taken_out = there.iter().any(|c| gone.contains(c));
    let mut left: HashMap<&Block, Vec<(usize, &Comment)>> = HashMap::new();
    for (i, comment) in wanted.iter().enumerate().filter(|(_, c)| !known.contains(*c)) {
        left.entry(&comment.block).or_default().push((i, comment));
    }
    if left.is_empty() && !taken_out {
        return Ok(text.to_owned());
    }
    let mut doc = document(text)?;
    let mut rest = Vec::new();
    each_block(&mut doc, &mut |block, table| {
        if taken_out {
            take_out(block, table, gone);
        }
        let of = left.remove(block).unwrap_or_default();
        rest.extend(put(block, table, of));
    });
    rest.extend(left.into_values().flatten());
    rest.sort_unstable_by_key(|(i, _)| *i);
    let is_gone =
        |line: &str| gone.contains(&Comment { block: Block::Head, key: None, behind: false, text: line.into() });
    let mut end = without(doc.trailing().as_str().unwrap_or_default(), &is_gone);
    let texts: HashSet<&str> = there.iter().map(|c| c.text.as_str()).collect();
    for (_, comment) in rest.iter().filter(|(_, c)| !texts.contains(c.text.as_str())) {
        end.push_str(&comment.text);
        end.push('\n');
    }
    doc.set_trailing(end);
    Ok(doc.to_string())
}

/// Puts comments into their part; gives back those that have no place there.
fn put<'a>(block: &Block, table: &mut Table, all: Vec<(usize, &'a Comment)>) -> Vec<(usize, &'a Comment)> {
    let mut above: BTreeMap<Option<&str>, String> = BTreeMap::new();
    let mut left = Vec::new();
    for (i, comment) in all {
        let key = comment.key.as_deref().filter(|k| table.contains_key(k));
        let value = key.filter(|_| comment.behind).and_then(|k| table.get_mut(k)).and_then(Item::as_value_mut);
        // A unit that a hand wrote more behind is that, and more.
        let holds =
            |d: &Decor| lines(d.suffix().and_then(|s| s.as_str())).iter().all(|there| comment.text.starts_with(there));
        match value.filter(|v| holds(v.decor())) {
            Some(value) => value.decor_mut().set_suffix(format!(" {}", comment.text)),
            None if key.is_none() && *block == Block::Head => left.push((i, comment)),
            // Where another one stands behind the value this one goes above.
            None => *above.entry(key).or_default() += &format!("{}\n", comment.text),
        }
    }
    for (key, text) in above {
        match key {
            Some(key) => drop(table.key_mut(key).map(|mut k| add(k.leaf_decor_mut(), &text))),
            None => add(table.decor_mut(), &text),
        }
    }
    left
}

fn add(decor: &mut Decor, text: &str) {
    let before = decor.prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned();
    decor.set_prefix(before + text);
}

/// Takes comments out of their part.
fn take_out(block: &Block, table: &mut Table, gone: &HashSet<&Comment>) {
    let is_gone = |key: Option<&str>, behind: bool, line: &str| {
        gone.contains(&Comment { block: block.clone(), key: key.map(str::to_owned), behind, text: line.to_owned() })
    };
    let above = |decor: &mut Decor, key: Option<&str>| {
        if let Some(prefix) = decor.prefix().and_then(|p| p.as_str()).filter(|p| p.contains('#')) {
            decor.set_prefix(without(prefix, &|line| is_gone(key, false, line)));
        }
    };
    above(table.decor_mut(), None);
    let keys: Vec<String> = table.iter().map(|(k, _)| k.to_owned()).collect();
    for key in keys {
        if let Some(mut k) = table.key_mut(&key) {
            above(k.leaf_decor_mut(), Some(&key));
        }
        if let Some(value) = table.get_mut(&key).and_then(Item::as_value_mut) {
            let behind = lines(value.decor().suffix().and_then(|s| s.as_str()));
            if behind.iter().any(|line| is_gone(Some(&key), true, line)) {
                value.decor_mut().set_suffix("");
            }
        }
    }
}

/// A text without some of its lines of comment.
fn without(text: &str, is_gone: &dyn Fn(&str) -> bool) -> String {
    text.split_inclusive('\n').filter(|line| !line.trim().starts_with('#') || !is_gone(line.trim())).collect()
}

fn lines(text: Option<&str>) -> Vec<String> {
    text.unwrap_or_default().lines().map(str::trim).filter(|l| l.starts_with('#')).map(str::to_owned).collect()
}

/// Every part with its table: the day itself, its readings, its runs.
fn each_block(doc: &mut DocumentMut, visit: &mut dyn FnMut(&Block, &mut Table)) {
    visit(&Block::Head, doc.as_table_mut());
    let mut times: HashMap<String, usize> = HashMap::new();
    for name in ["reading", "run"] {
        for table in doc.get_mut(name).and_then(Item::as_array_of_tables_mut).into_iter().flat_map(|all| all.iter_mut())
        {
            let said = |key: &str| table.get(key).and_then(Item::as_value).map(|v| v.clone().decorated("", ""));
            let block = if name == "run" {
                Block::Run(table.get("id").and_then(Item::as_str).unwrap_or_default().to_owned())
            } else {
                let at = said("at").map(|v| v.to_string()).unwrap_or_default();
                let count = times.entry(at.clone()).or_default();
                *count += 1;
                Block::Reading(at, *count)
            };
            visit(&block, table);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: &str = "# a page\nformat = 1\ndate = 2026-05-16 # Saturday\n\n[[reading]]\nat = 09:30:00\n# twice\n\
        humidity = 50 # %\n\n# the first\n[[run]]\nid = \"a\"\n# read twice\nft60 = 1.597 # s\n\n[[run]]\nid = \"b\"\n# the end\n";

    #[test]
    fn each_comment_is_found_and_put_into_another_text() {
        let all = comments(DAY).unwrap();
        let texts: Vec<&str> = all.iter().map(|c| c.text.as_str()).collect();
        assert_eq!(
            texts,
            ["# a page", "# Saturday", "# twice", "# %", "# the first", "# read twice", "# s", "# the end"]
        );
        let bare: String = DAY
            .lines()
            .map(|l| l.split(" #").next().unwrap_or_default())
            .filter(|l| !l.starts_with('#'))
            .map(|l| format!("{l}\n"))
            .collect();
        assert_eq!(comments(&bare).unwrap(), []);
        let (wanted, none): (Vec<&Comment>, HashSet<&Comment>) = (all.iter().collect(), HashSet::new());
        assert_eq!(with_comments(&bare, &wanted, &none).unwrap(), DAY);
        assert_eq!(with_comments(DAY, &wanted, &none).unwrap(), DAY, "nothing twice");
        assert_eq!(comments(&with_comments(DAY, &[], &wanted.into_iter().collect()).unwrap()).unwrap(), []);
    }

    #[test]
    fn what_has_no_place_goes_as_near_as_there_is_one() {
        let of = |text: &str| comments(text).unwrap();
        let other = of(
            "format = 1\ndate = 2026-05-16 # rain\n\n[[run]]\nid = \"a\"\n# left\nlane = \"left\"\nft60 = 1.5 # s by hand\n\n\
             # gone\n[[run]]\nid = \"c\"\n",
        );
        let text = with_comments(DAY, &other.iter().collect::<Vec<_>>(), &HashSet::new()).unwrap();
        assert!(text.contains("# rain\ndate = 2026-05-16 # Saturday"), "{text}");
        assert!(text.contains("# the first\n# left\n[[run]]"), "{text}");
        assert!(text.contains("ft60 = 1.597 # s by hand\n"), "{text}");
        assert!(text.ends_with("# the end\n# gone\n"), "{text}");
    }
}
