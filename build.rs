//! Embeds the data files under `schema/`: lists its folders, so that adding an area or a template is adding a file, and
//! carries each file from TOML to JSON, which is read several times faster at every start of the program.

use std::error::Error;
use std::fmt::Write as _;
use std::hash::{Hash as _, Hasher as _};
use std::path::{Path, PathBuf};
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("schema");
    let mut code = String::new();
    for (name, file) in [
        ("UNITS", "units"),
        ("KINDS", "kinds"),
        ("TOGETHER", "together"),
        ("RUN", "run"),
        ("COLUMNS", "columns"),
        ("PARTS", "parts"),
        ("AIR", "air"),
        ("PLACES", "places"),
    ] {
        let path = root.join(file).with_extension("toml");
        println!("cargo::rerun-if-changed={}", path.display());
        writeln!(code, "pub(super) const {name}: &str = {:?};", json(&path)?)?;
    }
    for (name, dir) in [("FIELD_FILES", "fields"), ("TEMPLATES", "templates"), ("RULE_FILES", "rules")] {
        let dir = root.join(dir);
        println!("cargo::rerun-if-changed={}", dir.display());
        let mut files: Vec<PathBuf> = fs::read_dir(&dir)?.map(|f| f.map(|f| f.path())).collect::<Result<_, _>>()?;
        files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
        files.sort();
        writeln!(code, "pub(super) const {name}: &[(&str, &str)] = &[")?;
        for file in files {
            let file_name = file.file_name().and_then(|n| n.to_str()).unwrap_or_default();
            writeln!(code, "    ({file_name:?}, {:?}),", json(&file)?)?;
        }
        code.push_str("];\n");
    }
    // Names this build's data, so that nothing derived with other definitions is taken for its own.
    let mut hash = std::collections::hash_map::DefaultHasher::new();
    code.hash(&mut hash);
    println!("cargo::rustc-env=SLIPBOOK_DATA_ID={:016x}", hash.finish());
    // And what kept answers are made of, so that none is kept of another build's.
    let mut hash = std::collections::hash_map::DefaultHasher::new();
    for dir in [
        "src/blame",
        "src/pace",
        "src/air",
        "src/diff",
        "src/garage",
        "src/schema",
        "src/slip",
        "src/timeline",
        "stats/src",
    ] {
        let dir = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join(dir);
        println!("cargo::rerun-if-changed={}", dir.display());
        sources(&dir, &mut hash)?;
    }
    println!("cargo::rustc-env=SLIPBOOK_MODEL_ID={:016x}", hash.finish());
    fs::write(Path::new(&env::var("OUT_DIR")?).join("schema_files.rs"), code)?;
    Ok(())
}

/// Takes in every source below a folder.
fn sources(dir: &Path, hash: &mut std::collections::hash_map::DefaultHasher) -> Result<(), Box<dyn Error>> {
    let mut paths: Vec<PathBuf> = fs::read_dir(dir)?.map(|f| f.map(|f| f.path())).collect::<Result<_, _>>()?;
    paths.sort();
    for path in paths {
        if path.is_dir() {
            sources(&path, hash)?;
        } else if path.extension().is_some_and(|e| e == "rs") {
            fs::read(path)?.hash(hash);
        }
    }
    Ok(())
}

fn json(path: &Path) -> Result<String, Box<dyn Error>> {
    let value: toml::Value =
        toml::from_str(&fs::read_to_string(path)?).map_err(|e| format!("{}: {e}", path.display()))?;
    Ok(serde_json::to_string(&value)?)
}
