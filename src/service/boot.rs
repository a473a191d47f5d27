//! Which boot this is: holds end by the time since boot only within one.

use std::io::Write;
use std::path::Path;

/// A name that this boot has and no other.
///
/// The kernel's own, if this process may see it; else one that is left in a folder that the next boot
/// finds empty, such as that of the control socket; else a fresh one, so that holds of earlier runs count
/// as held before the board was started.
pub(super) fn id(folder: Option<&Path>) -> String {
    if let Ok(id) = std::fs::read_to_string("/proc/sys/kernel/random/boot_id") {
        return id.trim().to_owned();
    }
    let fresh = format!(
        "{}-{}",
        super::clock::utc().timestamp_micros(),
        std::process::id()
    );
    let Some(file) = folder.map(|folder| folder.join("boot")) else {
        return fresh;
    };
    match std::fs::read_to_string(&file) {
        Ok(id) if !id.trim().is_empty() => id.trim().to_owned(),
        _ => {
            let written =
                std::fs::File::create(&file).and_then(|mut file| file.write_all(fresh.as_bytes()));
            if let Err(error) = written {
                tracing::warn!(file = ?file, why = ?error.to_string(), "cannot tell boots apart");
            }
            fresh
        }
    }
}
