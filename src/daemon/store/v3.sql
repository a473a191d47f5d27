-- Whether it was as it should be when it was taken: what drifts is held against the first that was, since a first
-- one may be mistyped. Of what was read before nobody asked; the first of it stays what it was held against.
ALTER TABLE reading ADD COLUMN fine INTEGER NOT NULL DEFAULT 1 CHECK (fine IN (0, 1));
-- One point was measured three times, and is three.
UPDATE reading SET point = point || ' pair' WHERE point LIKE '%/TP11';
