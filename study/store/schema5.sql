-- Version 5: how exports are taken in, and what holds readings back from results.

-- The versions of profiles, as they were written.
CREATE TABLE profile (
	id      INTEGER PRIMARY KEY,
	log     INTEGER NOT NULL,
	profile TEXT NOT NULL CHECK (profile <> ''),
	version INTEGER NOT NULL CHECK (version >= 1),
	text    TEXT NOT NULL,
	crc     INTEGER NOT NULL,
	UNIQUE (profile, version)
) STRICT;

-- How an export was taken in. The digest is of all that decides what becomes of its
-- bytes: the same bytes with the same digest need not be read again.
CREATE TABLE intake (
	id      INTEGER PRIMARY KEY,
	log     INTEGER NOT NULL,
	export  INTEGER NOT NULL REFERENCES export (id),
	digest  BLOB NOT NULL CHECK (length(digest) = 32),
	stated  TEXT, -- what a person stated; null: nothing
	profile INTEGER REFERENCES profile (id),
	crc     INTEGER NOT NULL,
	UNIQUE (export, digest)
) STRICT;

-- A guard found a reading suspicious.
CREATE TABLE hold (
	id      INTEGER PRIMARY KEY,
	log     INTEGER NOT NULL,
	reading INTEGER NOT NULL REFERENCES reading (id),
	guard   TEXT NOT NULL CHECK (guard <> ''),
	reason  TEXT NOT NULL CHECK (reason <> ''),
	crc     INTEGER NOT NULL,
	UNIQUE (reading, guard)
) STRICT;

-- A person judged a reading.
CREATE TABLE review (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	reading  INTEGER NOT NULL REFERENCES reading (id),
	standing TEXT NOT NULL CHECK (standing IN ('counted', 'aside')),
	why      TEXT NOT NULL CHECK (why <> ''),
	crc      INTEGER NOT NULL
) STRICT;

CREATE INDEX review_reading ON review (reading);

-- Guards that compare readings have been over all up to this number.
CREATE TABLE guarding (
	id           INTEGER PRIMARY KEY,
	log          INTEGER NOT NULL,
	last_reading INTEGER NOT NULL REFERENCES reading (id),
	crc          INTEGER NOT NULL
) STRICT;

-- 1: readings are evaluated over those of the dark blanks of their session.
ALTER TABLE study ADD COLUMN over_blank INTEGER CHECK (over_blank = 1);

-- Null in readings that were taken in before version 5.
ALTER TABLE reading ADD COLUMN first_line INTEGER; -- of the export, from 1, that the numbers stand in
ALTER TABLE reading ADD COLUMN last_line INTEGER;
ALTER TABLE reading ADD COLUMN intake INTEGER REFERENCES intake (id);
ALTER TABLE reading ADD COLUMN reference TEXT; -- by whose certificate the values were made absolute; null: they were not
ALTER TABLE reading ADD COLUMN reference_issued TEXT;
ALTER TABLE reading ADD COLUMN noise REAL; -- standard deviation of a point, a fraction
ALTER TABLE reading ADD COLUMN band_first_nm INTEGER; -- where the first band of 50 nm begins
ALTER TABLE reading ADD COLUMN bands_packed BLOB; -- mean values over the bands, one after the other
ALTER TABLE reading ADD COLUMN twin INTEGER; -- first 8 bytes of the SHA-256 of the packed wavelengths and values, big-endian

CREATE INDEX reading_session ON reading (session);
CREATE INDEX reading_twin ON reading (twin) WHERE twin IS NOT NULL;

-- Several certificates bear one name, so no foreign key can hold this.
CREATE TRIGGER reading_certified BEFORE INSERT ON reading
WHEN new.reference IS NOT NULL AND NOT EXISTS (
	SELECT 1 FROM reference r WHERE (r.reference, r.issued) = (new.reference, new.reference_issued))
BEGIN SELECT raise(ABORT, 'there is no such certificate'); END;

-- What came last decides, so no line of the log both holds a reading and reviews it.
CREATE TRIGGER hold_unreviewed BEFORE INSERT ON hold
WHEN EXISTS (SELECT 1 FROM review v WHERE v.reading = new.reading AND v.log = new.log)
BEGIN SELECT raise(ABORT, 'the reading is reviewed under this line of the log'); END;
CREATE TRIGGER review_unheld BEFORE INSERT ON review
WHEN EXISTS (SELECT 1 FROM hold h WHERE h.reading = new.reading AND h.log = new.log)
BEGIN SELECT raise(ABORT, 'the reading is held under this line of the log'); END;

CREATE TRIGGER profile_kept BEFORE DELETE ON profile BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER intake_kept BEFORE DELETE ON intake BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER hold_kept BEFORE DELETE ON hold BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER review_kept BEFORE DELETE ON review BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER guarding_kept BEFORE DELETE ON guarding BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;

CREATE TRIGGER profile_fixed BEFORE UPDATE ON profile BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER intake_fixed BEFORE UPDATE ON intake BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER hold_fixed BEFORE UPDATE ON hold BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER review_fixed BEFORE UPDATE ON review BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER guarding_fixed BEFORE UPDATE ON guarding BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- The standing of each reading, by what came last: a guard that held it, or a person
-- who reviewed it. The reason is that of the holds since the last review, or of the
-- review; decided is the line of the log.
CREATE VIEW v_standings AS
SELECT judged.reading, iif(held > reviewed, 'held', coalesce(review.standing, 'counted')) AS standing,
	iif(held > reviewed,
		(SELECT group_concat(reason, '; ') FROM (SELECT h.reason FROM hold h WHERE h.reading = judged.reading AND h.log > reviewed ORDER BY h.id)),
		review.why) AS reason,
	nullif(max(held, reviewed), 0) AS decided
FROM (
	SELECT id AS reading,
		coalesce((SELECT max(h.log) FROM hold h WHERE h.reading = reading.id), 0) AS held,
		coalesce((SELECT max(v.log) FROM review v WHERE v.reading = reading.id), 0) AS reviewed,
		(SELECT max(v.id) FROM review v WHERE v.reading = reading.id) AS last
	FROM reading) AS judged
LEFT JOIN review ON review.id = judged.last;

DROP VIEW v_spectra;

-- One row a spectrum; its points come out with wane export.
CREATE VIEW v_spectra AS
SELECT r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate,
	r.session, r.operator, r.geometry, r.orientation_deg,
	x.name AS export, lower(hex(x.sha256)) AS export_sha256, r.column_number, r.heading,
	g.points, g.first_nm, g.last_nm, r.mean,
	s.standing, s.reason, r.first_line, r.last_line, r.noise
FROM reading r
JOIN export x ON x.id = r.export
JOIN grid g ON g.id = r.grid
JOIN v_standings s ON s.reading = r.id
ORDER BY r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate;

-- The readings that do not enter results: the guards that ever held them and why, what
-- the last review said, and who decided, when.
CREATE VIEW v_held AS
SELECT r.id AS reading, r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate, r.session,
	x.name AS export, r.column_number, s.standing,
	(SELECT group_concat(guard, '; ') FROM (SELECT h.guard FROM hold h WHERE h.reading = r.id ORDER BY h.id)) AS guards,
	(SELECT group_concat(reason, '; ') FROM (SELECT h.reason FROM hold h WHERE h.reading = r.id ORDER BY h.id)) AS reasons,
	(SELECT v.why FROM review v WHERE v.reading = r.id ORDER BY v.id DESC LIMIT 1) AS why,
	l.who, l.at
FROM reading r
JOIN export x ON x.id = r.export
JOIN v_standings s ON s.reading = r.id
LEFT JOIN log l ON l.number = s.decided
WHERE s.standing <> 'counted' AND r.id IN (SELECT reading FROM hold UNION SELECT reading FROM review)
ORDER BY r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate;

CREATE VIEW v_profiles AS
SELECT p.profile, p.version, p.text, l.who, l.at
FROM profile p
LEFT JOIN log l ON l.number = p.log
ORDER BY p.profile, p.version;
