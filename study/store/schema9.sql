-- Version 9.

-- 1: nobody judges, amends or moves what they took in or enrolled themselves.
ALTER TABLE study ADD COLUMN two_people INTEGER CHECK (two_people = 1);
-- Bench sheets: what is read in one sitting at a pull, and in which order. A sheet is printed again as it was drawn;
-- another one of the same pull has the next number. spots is a list of texts in JSON; code is null for a thing that is
-- not registered, blind_code where the sheet is not blind.
CREATE TABLE sheet (
	id               INTEGER PRIMARY KEY,
	log              INTEGER NOT NULL,
	exposure         TEXT NOT NULL,
	pull             INTEGER NOT NULL,
	number           INTEGER NOT NULL CHECK (number >= 1),
	session          TEXT CHECK (session <> ''),
	condition        TEXT CHECK (condition IN ('as_found', 'rinsed', 'cleaned')),
	reading_protocol TEXT NOT NULL CHECK (reading_protocol <> ''),
	angles_deg       TEXT NOT NULL, -- numbers with spaces between them
	replicates       INTEGER NOT NULL CHECK (replicates >= 1),
	seed             INTEGER NOT NULL,
	blind            TEXT CHECK (blind = 'yes'),
	crc              INTEGER NOT NULL,
	UNIQUE (exposure, pull, number),
	FOREIGN KEY (exposure, pull) REFERENCES pull (exposure, pull)
) STRICT;
CREATE TABLE sheet_line (
	id         INTEGER PRIMARY KEY,
	log        INTEGER NOT NULL,
	sheet      INTEGER NOT NULL REFERENCES sheet (id),
	position   INTEGER NOT NULL CHECK (position >= 1),
	kind       TEXT NOT NULL CHECK (kind IN ('reference', 'check', 'trap', 'coupon')),
	code       TEXT CHECK (code <> ''),
	blind_code TEXT CHECK (blind_code <> ''),
	spots      TEXT,
	crc        INTEGER NOT NULL,
	UNIQUE (sheet, position),
	CHECK (kind <> 'coupon' OR code IS NOT NULL)
) STRICT;
CREATE TRIGGER sheet_kept BEFORE DELETE ON sheet BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER sheet_fixed BEFORE UPDATE ON sheet BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER sheet_line_kept BEFORE DELETE ON sheet_line BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER sheet_line_fixed BEFORE UPDATE ON sheet_line BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
