//! Lists the data files under `schema/`, so that adding an area or a template is adding a file.

use std::fmt::Write as _;
use std::{env, fs, io, path::Path};

fn main() -> io::Result<()> {
    let root = env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?;
    let out = env::var("OUT_DIR").map_err(io::Error::other)?;
    let mut code = String::new();
    for (name, dir) in [("FIELD_FILES", "schema/fields"), ("TEMPLATES", "schema/templates")] {
        println!("cargo::rerun-if-changed={dir}");
        let mut files: Vec<_> = fs::read_dir(Path::new(&root).join(dir))?.collect::<Result<Vec<_>, _>>()?;
        files.retain(|f| f.path().extension().is_some_and(|e| e == "toml"));
        files.sort_by_key(fs::DirEntry::file_name);
        let _ = writeln!(code, "pub(super) const {name}: &[(&str, &str)] = &[");
        for file in files {
            let _ = writeln!(code, "    ({:?}, include_str!({:?})),", file.file_name(), file.path());
        }
        code.push_str("];\n");
    }
    fs::write(Path::new(&out).join("schema_files.rs"), code)
}
