//! Files of the tests, inside `target`.

use std::path::{Path, PathBuf};

/// A path where a test may write; each test uses its own name.
pub(crate) fn scratch(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

/// A folder of one test, cleared of an earlier run's files.
pub(crate) fn empty_folder(name: &str) -> PathBuf {
    let folder = scratch(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}
