//! The machine's tz database: a directory of `TZif` files (RFC 9636), one per zone, named after
//! places.

use std::ffi::OsStr;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use super::SiteZone;

/// Where systems keep the database, in the order in which it is looked for.
const USUAL_DIRECTORIES: [&str; 4] = [
    "/usr/share/zoneinfo",
    "/usr/lib/zoneinfo",
    "/usr/share/lib/zoneinfo",
    "/etc/zoneinfo",
];

/// How alike two names must be to be taken for a slip of the pen, from 0 to 1; found by trying
/// misspellings.
const ALIKE: f64 = 0.7;

/// More suggestions than this are no help.
const MAX_SUGGESTIONS: usize = 3;

/// Entries of the database directory, and one word, that stand for what the machine is set to, or
/// for nothing: the site must not move with the machine.
const NOT_PLACES: [&str; 4] = ["local", "localtime", "posixrules", "Factory"];

/// The tz database of the machine. Nothing is read before it is asked for.
#[derive(Debug, Clone)]
pub struct ZoneInfo {
    directories: Vec<PathBuf>,
    version: OnceLock<Option<String>>,
}

/// Why there is no such time zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ZoneError {
    /// None of the directories holds a tz database.
    NoDatabase {
        /// The directories.
        searched: Vec<PathBuf>,
    },
    /// The database has no zone of this name.
    Unknown {
        /// The name asked for.
        name: String,
        /// The directory that holds the database.
        directory: PathBuf,
        /// Names that look like it, the likeliest first.
        nearest: Vec<String>,
    },
    /// An offset from UTC such as `UTC+2` in place of a name.
    Offset {
        /// The text given.
        given: String,
    },
    /// A path, or an entry of the database that does not stand for a place.
    NotAPlace {
        /// The text given.
        given: String,
        /// What it is instead.
        reason: &'static str,
    },
    /// The file of the zone is damaged, or the machine will not let us read it.
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
}

impl ZoneInfo {
    /// The database in the first of these directories that has one.
    pub fn new(directories: impl IntoIterator<Item = impl Into<PathBuf>>) -> Self {
        Self {
            directories: directories.into_iter().map(Into::into).collect(),
            version: OnceLock::new(),
        }
    }

    /// The database that the environment points to. For the shell: everything else is handed a
    /// `ZoneInfo`.
    pub fn from_environment() -> Self {
        Self::with_tzdir(std::env::var_os("TZDIR").as_deref())
    }

    /// The database in `$TZDIR` and nowhere else if that is set, or else in one of the usual
    /// directories.
    pub fn with_tzdir(tzdir: Option<&OsStr>) -> Self {
        match tzdir {
            Some(directory) if !directory.is_empty() => Self::new([directory]),
            _ => Self::new(USUAL_DIRECTORIES),
        }
    }

    /// Reads the rules of one zone, such as `America/Chicago`; no other file is touched unless that
    /// fails.
    pub fn open(&self, name: &str) -> Result<SiteZone, ZoneError> {
        if is_offset(name) {
            return Err(ZoneError::Offset { given: name.into() });
        }
        if let Some(reason) = not_a_place(name) {
            return Err(ZoneError::NotAPlace {
                given: name.into(),
                reason,
            });
        }
        // A name with any other character is in no database, and has no business in a path.
        if has_zone_characters(name) {
            for directory in &self.directories {
                let path = directory.join(name);
                let unreadable = |path, reason| ZoneError::Unreadable { path, reason };
                match fs::read(&path) {
                    Ok(bytes) => {
                        return SiteZone::from_tzif(name, path.clone(), &bytes)
                            .map_err(|e| unreadable(path, e));
                    }
                    Err(e) if is_absence(&e) => {}
                    Err(e) => return Err(unreadable(path, e.to_string().to_ascii_lowercase())),
                }
            }
        }
        let Some((directory, known)) = self.known_names() else {
            return Err(ZoneError::NoDatabase {
                searched: self.directories.clone(),
            });
        };
        Err(ZoneError::Unknown {
            name: name.into(),
            nearest: nearest(name, &known, directory),
            directory: directory.into(),
        })
    }

    /// The version of the database, such as `2026b`, if it says so. Read once: make a new
    /// `ZoneInfo` to notice an update.
    pub fn version(&self) -> Option<&str> {
        self.version
            .get_or_init(|| {
                self.directories
                    .iter()
                    .find_map(|directory| read_version(directory))
            })
            .as_deref()
    }

    /// The names that can be opened, sorted.
    pub fn names(&self) -> Vec<String> {
        let Some((directory, known)) = self.known_names() else {
            return Vec::new();
        };
        // Some systems install only part of what the database's own list names.
        let mut names: Vec<_> = known
            .into_iter()
            .map(|entry| entry.name)
            .filter(|name| directory.join(name).is_file())
            .collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    /// What the first directory with a database calls its zones.
    fn known_names(&self) -> Option<(&Path, Vec<Entry>)> {
        self.directories.iter().find_map(|directory| {
            let mut known = [names_from_source, names_from_files]
                .iter()
                .map(|read| read(directory))
                .find(|names| !names.is_empty())?;
            known.retain(|entry| not_a_place(&entry.name).is_none() && !is_offset(&entry.name));
            Some((directory.as_path(), known))
        })
    }
}

/// A name in the database.
struct Entry {
    name: String,
    /// The name that it is another name for.
    target: Option<String>,
}

impl Entry {
    fn new(name: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            target: None,
        }
    }
}

/// `UTC+2`, `+02:00`, `GMT-5`, `Etc/GMT+5`, `EST5`: numbers, not places. `EST5EDT` is a name.
fn is_offset(name: &str) -> bool {
    let name = name.trim();
    let name = name.strip_prefix("Etc/").unwrap_or(name);
    let number = name
        .trim_start_matches(|c: char| c.is_ascii_alphabetic())
        // People also type the typographic minus.
        .trim_start_matches([' ', '+', '-', '\u{2212}', '±']);
    number.starts_with(|c: char| c.is_ascii_digit())
        && number
            .chars()
            .all(|c| c.is_ascii_digit() || ":.".contains(c))
}

/// Why this is not the name of a place, known or unknown.
fn not_a_place(name: &str) -> Option<&'static str> {
    if name.is_empty() {
        Some("is empty")
    } else if name.starts_with(['/', '.', ':']) || name.split('/').any(|part| part == "..") {
        Some("is a path")
    } else if ["posix/", "right/"]
        .iter()
        .any(|tree| name.starts_with(tree))
    {
        Some("is another edition of the database's zone: leave out \"posix/\" or \"right/\"")
    } else if NOT_PLACES
        .iter()
        .any(|entry| entry.eq_ignore_ascii_case(name))
    {
        Some("is whatever the machine happens to be set to")
    } else {
        None
    }
}

fn has_zone_characters(name: &str) -> bool {
    name.bytes()
        .all(|b| b.is_ascii_alphanumeric() || b"_+/-".contains(&b))
}

/// Whether an error only means that there is no such file: `America` alone is a directory.
fn is_absence(error: &io::Error) -> bool {
    use io::ErrorKind::{InvalidFilename, IsADirectory, NotADirectory, NotFound};
    matches!(
        error.kind(),
        NotFound | IsADirectory | NotADirectory | InvalidFilename
    )
}

/// The version is in the first line of `tzdata.zi` ("# version 2026b"), or alone in a file of its
/// own.
fn read_version(directory: &Path) -> Option<String> {
    let first_line = |file| {
        let mut line = String::new();
        // A first line longer than this is something else.
        BufReader::new(File::open(directory.join(file)).ok()?.take(100))
            .read_line(&mut line)
            .ok()?;
        Some(line)
    };
    let of_source = first_line("tzdata.zi")
        .and_then(|line| Some(line.strip_prefix("# version ")?.trim().to_owned()));
    let version = of_source.or_else(|| Some(first_line("+VERSION")?.trim().to_owned()))?;
    // What the tz makefile writes if it was not told.
    (!version.is_empty() && version != "unknown").then_some(version)
}

/// `tzdata.zi` holds the whole database as text: a zone begins with "Z name", a link is "L target
/// name" (zic(8)).
fn names_from_source(directory: &Path) -> Vec<Entry> {
    let text = fs::read_to_string(directory.join("tzdata.zi")).unwrap_or_default();
    text.lines()
        .filter_map(|line| {
            let mut words = line.split_ascii_whitespace();
            match words.next()? {
                "Z" => words.next().map(Entry::new),
                "L" => {
                    let target = words.next()?.to_owned();
                    Some(Entry {
                        name: words.next()?.to_owned(),
                        target: Some(target),
                    })
                }
                _ => None,
            }
        })
        .collect()
}

/// The files themselves, told by their first bytes.
fn names_from_files(directory: &Path) -> Vec<Entry> {
    let mut names = Vec::new();
    let mut unread = vec![String::new()];
    while let Some(below) = unread.pop() {
        let Ok(files) = fs::read_dir(directory.join(&below)) else {
            continue;
        };
        for file in files.flatten() {
            let Ok(file_name) = file.file_name().into_string() else {
                continue;
            };
            let name = if below.is_empty() {
                file_name
            } else {
                format!("{below}/{file_name}")
            };
            // No name has more than three parts, so a link that leads in a circle ends.
            if file.path().is_dir() {
                if name.matches('/').count() < 2 {
                    unread.push(name);
                }
            } else if has_zone_characters(&name) && has_magic(&file.path()) {
                names.push(Entry::new(name));
            }
        }
    }
    names
}

fn has_magic(path: &Path) -> bool {
    let mut magic = [0; 4];
    File::open(path)
        .and_then(|mut file| file.read_exact(&mut magic))
        .is_ok()
        && &magic == b"TZif"
}

/// Names that can be opened and may have been meant, the likeliest first.
fn nearest(name: &str, known: &[Entry], directory: &Path) -> Vec<String> {
    let plain = |name: &str| name.trim().replace([' ', '-'], "_").to_ascii_lowercase();
    let place = |name: &str| name.rsplit('/').next().unwrap_or_default().to_owned();
    let asked = plain(name);
    let likeness = |entry: &Entry| {
        let candidate = plain(&entry.name);
        let whole = strsim::normalized_damerau_levenshtein(&asked, &candidate);
        // The right town in the wrong continent, or in none.
        let town = strsim::normalized_damerau_levenshtein(&place(&asked), &place(&candidate));
        whole.max(0.95 * town)
    };
    let mut ranked: Vec<_> = known
        .iter()
        .map(|entry| (likeness(entry), entry))
        .filter(|(alike, _)| *alike >= ALIKE)
        .collect();
    // Of equals, a zone before its other names, and then the shortest.
    ranked.sort_by(|(a, x), (b, y)| {
        b.total_cmp(a).then_with(|| {
            (x.target.is_some(), x.name.len()).cmp(&(y.target.is_some(), y.name.len()))
        })
    });
    if let Some(&(best, _)) = ranked.first() {
        // Beside an almost certain guess the rest is noise.
        ranked.retain(|(alike, _)| *alike >= best - 0.1);
    }
    let mut names = Vec::new();
    for (_, entry) in ranked {
        // An old name may be listed without being installed; the zone that it stands for is.
        let installed = [Some(&entry.name), entry.target.as_ref()]
            .into_iter()
            .flatten()
            .find(|n| directory.join(n).is_file());
        if let Some(installed) = installed
            && !names.contains(installed)
            && names.len() < MAX_SUGGESTIONS
        {
            names.push(installed.clone());
        }
    }
    names
}

impl fmt::Display for ZoneError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const PLACES: &str = r#""Europe/Berlin" or "America/Chicago""#;
        match self {
            Self::NoDatabase { searched } => {
                let searched: Vec<_> = searched.iter().map(|path| path.to_string_lossy()).collect();
                write!(
                    f,
                    "this machine has no time zone database (looked in {}): install it with \
                     `apt install tzdata`, or set TZDIR to the directory that holds it",
                    searched.join(", ")
                )
            }
            Self::Unknown { name, nearest, .. } => {
                write!(f, "no time zone \"{name}\" in the machine's database; ")?;
                if nearest.is_empty() {
                    return write!(
                        f,
                        "use a name such as {PLACES}; `timedatectl list-timezones` prints them all"
                    );
                }
                let quoted: Vec<_> = nearest.iter().map(|name| format!("\"{name}\"")).collect();
                write!(f, "did you mean {}?", quoted.join(" or "))
            }
            Self::Offset { given } => write!(
                f,
                "the time zone \"{given}\" is an offset, which knows nothing of summer time; name \
                 the place, such as {PLACES} (or \"UTC\")"
            ),
            Self::NotAPlace { given, reason } => write!(
                f,
                "the time zone \"{given}\" {reason}; name the place, such as {PLACES}"
            ),
            Self::Unreadable { path, reason } => write!(
                f,
                "cannot use the time zone file {}: {reason}; reinstall it with \
                 `apt install --reinstall tzdata`",
                path.display()
            ),
        }
    }
}

impl std::error::Error for ZoneError {}
