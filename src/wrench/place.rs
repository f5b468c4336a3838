//! Where a hand stands or lies, from `schema/places.toml`.

use crate::schema::places_data;
use serde::Deserialize;
use std::sync::OnceLock;

/// A place.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// As the fields name it.
    pub name: String,
    /// As a list heads it.
    pub heading: String,
    /// The two headings of a place that is one a side: left, right.
    #[serde(default)]
    pub sides: Vec<String>,
    /// How the car must stand.
    pub car: String,
    /// A person is under the car.
    #[serde(default)]
    pub under: bool,
}

/// What a racer asks first: did it move?
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Headline {
    /// What it is called.
    pub name: String,
    /// The fields it stands for.
    pub fields: Vec<String>,
}

/// All of `schema/places.toml`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Places {
    #[allow(dead_code, reason = "each data file states its form")]
    format: u32,
    /// In the order their jobs are done.
    pub place: Vec<Place>,
    /// What is taken again after the jobs, each after what it hangs on: keys.
    pub measured_in_order: Vec<String>,
    /// What is said not to have moved.
    pub headline: Vec<Headline>,
}

/// The built-in places.
pub fn places() -> &'static Places {
    static PLACES: OnceLock<Places> = OnceLock::new();
    PLACES.get_or_init(|| match places_data() {
        Ok(places) => places,
        // The data is part of the program and a test reads all of it.
        Err(problem) => panic!("the built-in places are damaged: {problem}"),
    })
}

impl Places {
    /// The place called `name`, and its turn in the order.
    pub fn find(&self, name: Option<&str>) -> Option<(usize, &Place)> {
        self.place.iter().enumerate().find(|(_, p)| Some(p.name.as_str()) == name)
    }

    /// When something is measured again; what has no turn comes last, in the order of the sheet.
    pub fn turn_of(&self, key: &str) -> usize {
        self.measured_in_order.iter().position(|k| k == key).unwrap_or(usize::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Sides, rules, schema};

    #[test]
    fn every_place_of_a_field_is_one_and_every_key_a_field() {
        for field in &schema().fields {
            assert!(places().find(field.place.as_deref()).is_some(), "{}: {:?}", field.key, field.place);
        }
        let headlines = places().headline.iter().flat_map(|h| &h.fields);
        for key in places().measured_in_order.iter().chain(headlines) {
            assert!(schema().field(key).is_some(), "{key}");
        }
        for place in &places().place {
            assert!(place.sides.is_empty() || place.sides.len() == 2, "{}", place.name);
            let pairs =
                schema().fields.iter().any(|f| f.place.as_deref() == Some(&place.name) && f.sides == Sides::Pair);
            assert!(place.sides.is_empty() || pairs, "{}: no pair is set there", place.name);
            let said = place.car.to_lowercase();
            assert!(!said.contains("safe") && !said.contains("legal"), "{}", place.name);
        }
    }

    #[test]
    fn whoever_is_under_the_car_is_told_what_it_must_stand_on() {
        for place in places().place.iter().filter(|p| p.under) {
            let told = rules().iter().any(|r| {
                r.chassis.is_empty() && r.job.as_ref().is_some_and(|j| !j.after && j.places.contains(&place.name))
            });
            assert!(told, "{}", place.name);
        }
    }
}
