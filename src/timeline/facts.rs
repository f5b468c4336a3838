//! A sheet as far as it can be relied on, and what is not on it.

use super::{Stale, Timeline};
use crate::schema::{Field, Num, Role, Scalar, Schema, Sheet, Sides, Value};
use crate::slip::Moment;
use std::collections::{HashMap, HashSet};

/// A measured field of this car that is not on record, or some slots of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// The field.
    pub key: String,
    /// The slots that are missing; empty where all of it is.
    pub slots: Vec<usize>,
}

/// Measured fields that belong on the sheet of this car and are not on it, in sheet order.
pub fn missing(schema: &Schema, chassis: &[String], sheet: &Sheet) -> Vec<Missing> {
    let belongs = |f: &&Field| {
        f.role == Role::Measured
            && f.ring != crate::schema::Ring::Extra
            && f.on_chassis(chassis)
            && f.applies.holds(sheet)
    };
    let one = |f: &Field| match sheet.get(&f.key) {
        None => Some(Missing { key: f.key.clone(), slots: Vec::new() }),
        Some(Value::Slots(v)) if v.iter().any(Option::is_none) => {
            let slots = (0..v.len()).filter(|i| v[*i].is_none()).collect();
            Some(Missing { key: f.key.clone(), slots })
        }
        Some(_) => None,
    };
    schema.fields.iter().filter(belongs).filter_map(one).collect()
}

/// When each value on the sheet at the end of a version came on record: recorded, changed, or found as it was.
/// `sheets` holds every sheet of the timeline by its store id.
pub fn on_record_since(
    timeline: &Timeline,
    sheets: &HashMap<String, Sheet>,
    version: usize,
) -> HashMap<String, Moment> {
    let mut since: HashMap<String, Moment> = HashMap::new();
    let mut before: Option<&Sheet> = None;
    for (_, entry) in timeline.records().take_while(|(i, _)| *i <= version) {
        let Some(sheet) = sheets.get(&entry.blob) else { continue };
        for (key, value) in sheet.iter() {
            if before.and_then(|b| b.get(key)) != Some(value) {
                since.insert(key.to_owned(), entry.at);
            }
        }
        for path in entry.measured.iter().map(|m| m.split(' ').next().unwrap_or(m)) {
            // A slot counts for its field: the newest reading of it.
            let key = if sheet.get(path).is_some() { path } else { path.rsplit_once('.').map_or(path, |(k, _)| k) };
            since.insert(key.to_owned(), entry.at);
        }
        before = Some(sheet);
    }
    since
}

/// A sheet as far as it can be relied on. Whatever is computed from a sheet asks here: what is stale or in doubt is no
/// fact.
pub struct Facts<'a> {
    schema: &'a Schema,
    sheet: &'a Sheet,
    /// Stale slots; `None` for a field without slots.
    stale: HashSet<(&'a str, Option<usize>)>,
}

impl<'a> Facts<'a> {
    /// A sheet with what is stale on it.
    pub fn new(schema: &'a Schema, sheet: &'a Sheet, stale: &'a [Stale]) -> Facts<'a> {
        let slots = |s: &'a Stale| {
            let slots: Vec<Option<usize>> =
                if s.slots.is_empty() { vec![None] } else { s.slots.iter().map(|i| Some(*i)).collect() };
            slots.into_iter().map(|i| (s.key.as_str(), i))
        };
        Facts { schema, sheet, stale: stale.iter().flat_map(slots).collect() }
    }

    /// The value of a field, if all of it is a fact.
    pub fn usable(&self, key: &str) -> Option<&'a Value> {
        let value = self.sheet.get(key)?;
        let sure = !self.sheet.is_doubtful(key, None) && !self.stale.iter().any(|(k, _)| *k == key);
        sure.then_some(value)
    }

    /// One slot of a field, if it is a fact.
    pub fn usable_at(&self, key: &str, slot: usize) -> Option<&'a Scalar> {
        let value = self.sheet.get(key)?.slot(slot)?;
        let stale = self.stale.contains(&(key, None)) || self.stale.contains(&(key, Some(slot)));
        (!stale && !self.sheet.is_doubtful(key, Some(slot))).then_some(value)
    }

    /// The number at a dotted path: of a single value, of one slot, or of a pair that is alike.
    pub fn num(&self, path: &str) -> Option<Num> {
        let (field, slot) = self.schema.locate(path)?;
        match slot {
            Some(i) => self.usable_at(&field.key, i)?.num(),
            None => self.usable(&field.key)?.shared()?.num(),
        }
    }

    /// The numbers of all slots of a field; missing where one of them is no fact.
    pub fn nums(&self, key: &str) -> Option<Vec<Num>> {
        match (self.schema.field(key)?.sides, self.usable(key)?) {
            (Sides::List, Value::List(v)) => Some(v.clone()),
            (_, Value::Slots(v)) => v.iter().map(|s| s.as_ref()?.num()).collect(),
            (_, value) => Some(vec![value.one()?.num()?]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Cause, VersionNumber};
    use super::*;
    use crate::schema::{read_sheet, schema};

    #[test]
    fn facts_leave_out_what_is_stale_or_in_doubt() {
        let text = "[weight.corner]\nlf = 800\nrf = '810?'\nlr = 790\nrr = 780\n[frame]\nwheelbase = 108\n";
        let sheet = read_sheet(schema(), &format!("format = 1\n{text}")).sheet;
        let cause = Cause {
            version: VersionNumber::plain(2),
            at: Moment { seconds: 0, offset_seconds: 0 },
            fields: Vec::new(),
            words: Vec::new(),
        };
        let key = "weight.corner".to_owned();
        let stale = [Stale { key, slots: vec![2], taken: None, causes: vec![cause], before: None }];
        let facts = Facts::new(schema(), &sheet, &stale);
        assert_eq!(facts.num("weight.corner.lf"), Num::parse("800"));
        assert_eq!((facts.num("weight.corner.rf"), facts.num("weight.corner.lr")), (None, None));
        assert_eq!((facts.usable("weight.corner"), facts.nums("weight.corner")), (None, None));
        assert_eq!(facts.num("frame.wheelbase"), Num::parse("108"));
        assert_eq!(facts.nums("frame.wheelbase").unwrap().len(), 2);
        assert_eq!(facts.num("nothing.such"), None);
    }

    #[test]
    fn what_is_missing_belongs_on_the_sheet_of_this_car() {
        let sheet =
            read_sheet(schema(), "format = 1\n[weight.corner]\nlf = 800\n[rear.limiter]\nkind = 'none'\n").sheet;
        let leaf: Vec<String> = schema().template("leaf-torsion").unwrap().chassis.clone();
        let all = missing(schema(), &leaf, &sheet);
        let of = |key: &str| all.iter().find(|m| m.key == key);
        assert_eq!(of("weight.corner").unwrap().slots, [1, 2, 3]);
        assert_eq!(of("frame.wheelbase").unwrap().slots, [] as [usize; 0]);
        assert_eq!(of("rear.limiter.gap"), None, "there is no limiter");
        assert_eq!(of("rear.ladder.front_height"), None, "of another chassis");
        assert_eq!(of("weight.driver"), None, "on the sheet only once used");
    }
}
