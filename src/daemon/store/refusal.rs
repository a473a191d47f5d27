//! Why a file does not serve, and what that means for it.

use std::fmt;
use std::io;

use rusqlite::{Error, ErrorCode, ffi};

/// Why a file does not serve.
#[derive(Debug)]
pub(super) enum Refusal {
    /// Its content is wrong: it is put aside.
    Damaged(String),
    /// A newer version of the program has made it: it is left alone.
    Newer(String),
    /// It, or its folder, cannot be written or read now.
    Unusable(String),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (Self::Damaged(why) | Self::Newer(why) | Self::Unusable(why)) = self;
        f.write_str(why)
    }
}

impl From<Error> for Refusal {
    fn from(error: Error) -> Self {
        let said = error.to_string();
        let Error::SqliteFailure(failure, _) = &error else {
            // A row that is not of its table's types.
            return Self::Damaged(said);
        };
        match failure.code {
            ErrorCode::CannotOpen
            | ErrorCode::DiskFull
            | ErrorCode::FileLockingProtocolFailed
            | ErrorCode::NoLargeFileSupport
            | ErrorCode::OutOfMemory
            | ErrorCode::PermissionDenied
            | ErrorCode::ReadOnly => Self::Unusable(said),
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => {
                Self::Unusable("another process has it open".into())
            }
            ErrorCode::SystemIoFailure
                if ![ffi::SQLITE_IOERR_READ, ffi::SQLITE_IOERR_CORRUPTFS]
                    .contains(&failure.extended_code) =>
            {
                Self::Unusable(said)
            }
            // Among them what SQLite says of tables that are not there.
            _ => Self::Damaged(said),
        }
    }
}

impl From<io::Error> for Refusal {
    fn from(error: io::Error) -> Self {
        Self::Unusable(error.to_string())
    }
}
