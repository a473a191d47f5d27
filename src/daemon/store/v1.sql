-- Instants are microseconds since 1970-01-01T00:00Z, times since a boot are microseconds.
-- An owner reads this with `sqlite3 pilotwire.db .schema`.
CREATE TABLE event (
    id INTEGER PRIMARY KEY, -- in the order of happening; `at` may step with the clock
    at INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    kind TEXT NOT NULL,
    zone TEXT,
    what TEXT NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE TABLE hold (
    zone TEXT PRIMARY KEY NOT NULL,
    lit INTEGER NOT NULL CHECK (lit IN (0, 1)),
    since INTEGER NOT NULL,
    until INTEGER NOT NULL,
    boot_id TEXT NOT NULL,
    until_boot INTEGER NOT NULL CHECK (until_boot >= 0),
    by_clock INTEGER NOT NULL CHECK (by_clock IN (0, 1))
) STRICT, WITHOUT ROWID;
CREATE TABLE zone (
    zone TEXT PRIMARY KEY NOT NULL,
    lit INTEGER NOT NULL CHECK (lit IN (0, 1)),
    since INTEGER NOT NULL,
    lit_s REAL NOT NULL, -- lit in all, seconds
    operations INTEGER NOT NULL CHECK (operations >= 0)
) STRICT, WITHOUT ROWID;
CREATE TABLE newest (
    id INTEGER PRIMARY KEY CHECK (id = 1), -- one row
    at INTEGER NOT NULL
) STRICT;
