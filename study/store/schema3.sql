-- Version 3: the register of instruments, references, check standards and sessions.
-- Values and uncertainties are fractions, dates ISO 8601.

CREATE TABLE instrument (
	id         INTEGER PRIMARY KEY,
	log        INTEGER NOT NULL,
	instrument TEXT NOT NULL UNIQUE CHECK (instrument <> ''),
	serial     TEXT,
	kind       TEXT,
	cone_deg   REAL, -- half-angle of the beam
	slit_nm    REAL, -- spectral width at half maximum
	join_nm    TEXT, -- from which on the next detector reads, separated by spaces
	u_join     REAL, -- standard uncertainty of the step there
	note       TEXT,
	crc        INTEGER NOT NULL
) STRICT;

CREATE TABLE event (
	id         INTEGER PRIMARY KEY,
	log        INTEGER NOT NULL,
	instrument TEXT NOT NULL REFERENCES instrument (instrument),
	date       TEXT NOT NULL,
	event      TEXT NOT NULL CHECK (event IN ('lamp', 'detector', 'service')),
	note       TEXT,
	crc        INTEGER NOT NULL,
	UNIQUE (instrument, date, event)
) STRICT;

-- One certificate of a reference. Its values are in the table reference_curve, with
-- their digest here.
CREATE TABLE reference (
	id          INTEGER PRIMARY KEY,
	log         INTEGER NOT NULL,
	reference   TEXT NOT NULL CHECK (reference <> ''),
	issued      TEXT NOT NULL,
	serial      TEXT,
	certificate TEXT NOT NULL CHECK (certificate <> ''),
	expires     TEXT,
	u_scale     REAL,
	curves      INTEGER NOT NULL,
	sha256      BLOB, -- null without curves
	note        TEXT,
	crc         INTEGER NOT NULL,
	UNIQUE (reference, issued)
) STRICT;

CREATE TABLE reference_curve (
	id            INTEGER PRIMARY KEY,
	log           INTEGER NOT NULL,
	reference     TEXT NOT NULL,
	issued        TEXT NOT NULL,
	angle_deg     REAL NOT NULL,
	polarisation  TEXT NOT NULL CHECK (polarisation IN ('s', 'p', 'u', 'n')),
	points        INTEGER NOT NULL,
	first_nm      REAL NOT NULL,
	last_nm       REAL NOT NULL,
	nm_packed     BLOB NOT NULL,
	values_packed BLOB NOT NULL,
	u_packed      BLOB NOT NULL,
	crc           INTEGER NOT NULL,
	UNIQUE (reference, issued, angle_deg, polarisation),
	FOREIGN KEY (reference, issued) REFERENCES reference (reference, issued)
) STRICT;

-- One certified value of a check standard.
CREATE TABLE standard (
	id            INTEGER PRIMARY KEY,
	log           INTEGER NOT NULL,
	standard      TEXT NOT NULL CHECK (standard <> ''),
	issued        TEXT NOT NULL,
	angle_deg     REAL NOT NULL,
	polarisation  TEXT NOT NULL CHECK (polarisation IN ('s', 'p', 'u', 'n')),
	serial        TEXT,
	certificate   TEXT NOT NULL CHECK (certificate <> ''),
	expires       TEXT,
	quantity      TEXT NOT NULL CHECK (quantity IN ('R', 'T', 'solar_R', 'solar_T')),
	wavelength_nm REAL, -- null for solar-weighted values
	value         REAL NOT NULL,
	u             REAL NOT NULL CHECK (u > 0),
	note          TEXT,
	crc           INTEGER NOT NULL,
	UNIQUE (standard, issued, angle_deg, polarisation),
	CHECK ((quantity IN ('R', 'T')) = (wavelength_nm IS NOT NULL))
) STRICT;

-- A sitting at an instrument. Readings name it; those of sessions that are not here
-- are evaluated with what is known by default.
CREATE TABLE session (
	id               INTEGER PRIMARY KEY,
	log              INTEGER NOT NULL,
	session          TEXT NOT NULL UNIQUE CHECK (session <> ''),
	instrument       TEXT NOT NULL REFERENCES instrument (instrument),
	date             TEXT NOT NULL,
	operator         TEXT,
	reference        TEXT,
	humidity_percent REAL,
	temperature_c    REAL,
	condition        TEXT CHECK (condition IN ('as_found', 'rinsed', 'cleaned')),
	note             TEXT,
	crc              INTEGER NOT NULL
) STRICT;

CREATE TABLE standard_reading (
	id           INTEGER PRIMARY KEY,
	log          INTEGER NOT NULL,
	session      TEXT NOT NULL REFERENCES session (session),
	standard     TEXT NOT NULL,
	angle_deg    REAL NOT NULL,
	polarisation TEXT NOT NULL,
	replicate    INTEGER NOT NULL CHECK (replicate >= 1),
	value        REAL NOT NULL,
	crc          INTEGER NOT NULL,
	UNIQUE (session, standard, angle_deg, polarisation, replicate)
) STRICT;

-- Several certificates bear one name, so no foreign key can hold these two.
CREATE TRIGGER session_reference BEFORE INSERT ON session
WHEN new.reference IS NOT NULL AND NOT EXISTS (SELECT 1 FROM reference r WHERE r.reference = new.reference)
BEGIN SELECT raise(ABORT, 'there is no such reference'); END;
CREATE TRIGGER standard_reading_certified BEFORE INSERT ON standard_reading
WHEN NOT EXISTS (
	SELECT 1 FROM standard s
	WHERE (s.standard, s.angle_deg, s.polarisation) = (new.standard, new.angle_deg, new.polarisation))
BEGIN SELECT raise(ABORT, 'no certificate has this standard at this angle and polarisation'); END;

CREATE TRIGGER instrument_kept BEFORE DELETE ON instrument BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER reference_kept BEFORE DELETE ON reference BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER reference_curve_kept BEFORE DELETE ON reference_curve BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER standard_kept BEFORE DELETE ON standard BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER session_kept BEFORE DELETE ON session BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER standard_reading_kept BEFORE DELETE ON standard_reading BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;

CREATE TRIGGER instrument_fixed BEFORE UPDATE ON instrument BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER event_fixed BEFORE UPDATE ON event BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER reference_fixed BEFORE UPDATE ON reference BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER reference_curve_fixed BEFORE UPDATE ON reference_curve BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER standard_fixed BEFORE UPDATE ON standard BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER session_fixed BEFORE UPDATE ON session BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER standard_reading_fixed BEFORE UPDATE ON standard_reading BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
