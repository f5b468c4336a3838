//! The data under `schema/`: it all parses, holds what the field list counts, and the generated files are fresh.

use slipbook::schema::{Field, Ring, Role, Schema, json_schemas, schema};
use std::path::{Path, PathBuf};

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("schema")
}

fn files(dir: &Path, extension: &str) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(files(&path, extension));
        } else if path.extension().is_some_and(|e| e == extension) {
            out.push(path);
        }
    }
    out.sort();
    out
}

#[test]
fn every_file_is_toml_and_is_taken_in() {
    let found = files(&data(), "toml");
    assert!(found.len() > 15, "{found:?}");
    let mut fields = 0;
    for path in &found {
        let text = std::fs::read_to_string(path).unwrap();
        let table: toml::Table = toml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        fields += table.get("field").and_then(|f| f.as_array()).map_or(0, Vec::len);
    }
    assert_eq!(schema().fields.len(), fields, "every field of schema/fields is in the program");
    let templates = files(&data().join("templates"), "toml");
    assert_eq!(schema().templates.len(), templates.len());
}

/// Template, and its fields: pocket, pocket and sheet, all, set.
const COUNTS: [(&str, [usize; 4]); 3] = [
    ("leaf-torsion", [33, 119, 194, 97]),
    ("ladder-strut", [32, 107, 168, 84]),
    ("fourlink-coilover", [35, 111, 171, 87]),
];

#[test]
fn each_chassis_has_its_fields() {
    for (template, counts) in COUNTS {
        let chassis = &schema().template(template).unwrap().chassis;
        let on = |wanted: &dyn Fn(&Field) -> bool| {
            schema().fields.iter().filter(|f| f.on_chassis(chassis) && wanted(f)).count()
        };
        let pocket = on(&|f| f.ring == Ring::Pocket);
        let sheet = on(&|f| f.ring != Ring::Extra);
        let set = on(&|f| f.role == Role::Set);
        assert_eq!([pocket, sheet, on(&|_| true), set], counts, "{template}: pocket, pocket and sheet, all, set");
    }
}

#[test]
fn every_field_explains_itself() {
    for field in &schema().fields {
        assert!(field.help.trim().len() > 20, "{} has no help", field.key);
        assert!(!field.label.trim().is_empty(), "{} has no label", field.key);
        let text = format!("{}{}", field.label, field.help);
        assert!(!text.chars().any(char::is_control), "{} has a control character", field.key);
        if let (Some([low, high]), Some([least, most])) = (field.usual, field.possible) {
            assert!(least <= low && low <= high && high <= most, "{}: usual within possible", field.key);
        }
    }
}

/// Keys a definition points at.
fn pointed(field: &Field) -> Vec<&str> {
    let some = [&field.part, &field.follows];
    field.moves.iter().map(String::as_str).chain(some.into_iter().flatten().map(String::as_str)).collect()
}

#[test]
fn no_definition_points_nowhere() {
    let known = |schema: &Schema, key: &str| schema.field(key).is_some() || schema.locate(key).is_some();
    for field in &schema().fields {
        for key in pointed(field) {
            assert!(known(schema(), key), "{} points at {key}", field.key);
        }
    }
}

#[test]
fn generated_schemas_are_fresh() {
    let dir = data().join("generated");
    if std::env::var_os("UPDATE_SCHEMAS").is_some() {
        std::fs::create_dir_all(&dir).unwrap();
        for (name, text) in json_schemas() {
            std::fs::write(dir.join(name), text).unwrap();
        }
    }
    let stale = |(name, text): &(&str, String)| std::fs::read_to_string(dir.join(name)).ok().as_ref() != Some(text);
    let names: Vec<&str> = json_schemas().iter().filter(|f| stale(f)).map(|f| f.0).collect();
    assert!(
        names.is_empty(),
        "{names:?} in schema/generated are stale: UPDATE_SCHEMAS=1 cargo test --test schema_data writes them"
    );
    let there: Vec<_> = files(&dir, "json");
    assert_eq!(there.len(), json_schemas().len(), "{there:?}");
}

#[test]
fn the_json_schema_knows_every_field() {
    let (_, text) = json_schemas().into_iter().find(|(n, _)| *n == "setup.schema.json").unwrap();
    let root: serde_json::Value = serde_json::from_str(&text).unwrap();
    for field in &schema().fields {
        let mut at = &root;
        for part in field.key.split('.') {
            at = &at["properties"][part];
        }
        let says = at["description"].as_str().unwrap_or_default();
        assert!(says.starts_with(&field.label), "{}: {at}", field.key);
    }
    assert_eq!(root["additionalProperties"], serde_json::Value::Bool(false));
}
