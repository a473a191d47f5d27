//! Files of the tests, inside `target`.

use std::path::{Path, PathBuf};

/// Where a test may write; each takes a name that no other takes.
pub(crate) fn scratch(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

/// A folder of one test, emptied of what an earlier run left.
pub(crate) fn empty_folder(name: &str) -> PathBuf {
    let folder = scratch(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}
