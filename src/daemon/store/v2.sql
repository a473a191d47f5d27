-- What meters showed at the test points, year after year: what drifts shows only beside what it was.
CREATE TABLE reading (
    id INTEGER PRIMARY KEY, -- in the order in which they were taken
    point TEXT NOT NULL, -- zone and test point: `orchard/TP3 DC`
    at INTEGER NOT NULL,
    value REAL NOT NULL -- volts, ohms or megohms, as the point has it; Inf is above the meter's range
) STRICT;
CREATE INDEX reading_of ON reading (point, id);
