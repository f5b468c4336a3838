//! The data files under `schema/`, embedded in the program as JSON (`build.rs` carries them over).

include!(concat!(env!("OUT_DIR"), "/schema_files.rs"));
