//! What hands wrote beside a day's values: where each comment stands, and putting it there in another text of the day.

use super::edit::{EditError, document};
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

/// The text with comments put where they stand; what is there already is not put twice. Those of a part or a key that is
/// not there go as near as there is a place.
pub fn with_comments(text: &str, wanted: &[Comment]) -> Result<String, EditError> {
    let there = comments(text)?;
    let mut left: Vec<&Comment> = wanted.iter().filter(|c| !there.contains(c)).collect();
    if left.is_empty() {
        return Ok(text.to_owned());
    }
    let mut doc = document(text)?;
    each_block(&mut doc, &mut |block, table| {
        left.retain(|c| c.block != *block || !put(block, table, c));
    });
    let mut end = doc.trailing().as_str().unwrap_or_default().to_owned();
    for comment in left.iter().filter(|c| !there.iter().any(|t| t.text == c.text)) {
        end.push_str(&format!("{}\n", comment.text));
    }
    doc.set_trailing(end);
    Ok(doc.to_string())
}

/// Puts a comment into its part; `false` where it has no place there.
fn put(block: &Block, table: &mut Table, comment: &Comment) -> bool {
    let key = comment.key.as_deref().filter(|k| table.contains_key(k));
    match key {
        Some(key) => {
            let value = table.get_mut(key).and_then(Item::as_value_mut);
            // A unit that a hand wrote more behind is that, and more.
            let holds = |d: &Decor| {
                lines(d.suffix().and_then(|s| s.as_str())).iter().all(|there| comment.text.starts_with(there))
            };
            if let Some(value) = value.filter(|v| comment.behind && holds(v.decor())) {
                value.decor_mut().set_suffix(format!(" {}", comment.text));
                return true;
            }
            // Another one stands behind it: this one goes above.
            table.key_mut(key).map(|mut k| add_line(k.leaf_decor_mut(), &comment.text)).is_some()
        }
        None if *block == Block::Head => false,
        None => {
            add_line(table.decor_mut(), &comment.text);
            true
        }
    }
}

fn add_line(decor: &mut Decor, text: &str) {
    let before = decor.prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned();
    decor.set_prefix(format!("{before}{text}\n"));
}

fn lines(text: Option<&str>) -> Vec<String> {
    text.unwrap_or_default().lines().map(str::trim).filter(|l| l.starts_with('#')).map(str::to_owned).collect()
}

/// Every part with its table: the day itself, its readings, its runs.
fn each_block(doc: &mut DocumentMut, visit: &mut dyn FnMut(&Block, &mut Table)) {
    visit(&Block::Head, doc.as_table_mut());
    let mut times: Vec<String> = Vec::new();
    for name in ["reading", "run"] {
        for table in doc.get_mut(name).and_then(Item::as_array_of_tables_mut).into_iter().flat_map(|all| all.iter_mut())
        {
            let said = |key: &str| table.get(key).and_then(Item::as_value).map(|v| v.clone().decorated("", ""));
            let block = if name == "run" {
                Block::Run(table.get("id").and_then(Item::as_str).unwrap_or_default().to_owned())
            } else {
                let at = said("at").map(|v| v.to_string()).unwrap_or_default();
                times.push(at.clone());
                Block::Reading(at.clone(), times.iter().filter(|t| **t == at).count())
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
        assert_eq!(with_comments(&bare, &all).unwrap(), DAY);
        assert_eq!(with_comments(DAY, &all).unwrap(), DAY, "nothing twice");
    }

    #[test]
    fn what_has_no_place_goes_as_near_as_there_is_one() {
        let of = |text: &str| comments(text).unwrap();
        let other = of(
            "format = 1\ndate = 2026-05-16 # rain\n\n[[run]]\nid = \"a\"\n# left\nlane = \"left\"\nft60 = 1.5 # s by hand\n\n\
             # gone\n[[run]]\nid = \"c\"\n",
        );
        let text = with_comments(DAY, &other).unwrap();
        assert!(text.contains("# rain\ndate = 2026-05-16 # Saturday"), "{text}");
        assert!(text.contains("# the first\n# left\n[[run]]"), "{text}");
        assert!(text.contains("ft60 = 1.597 # s by hand\n"), "{text}");
        assert!(text.ends_with("# the end\n# gone\n"), "{text}");
    }
}
