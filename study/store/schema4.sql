-- Version 4: what other instruments read of a coupon, and the program that wrote a
-- line of the log.

-- One number, by other means than spectra. The table it stood in and the picture that
-- belongs to it are kept byte for byte, as rows of export.
CREATE TABLE measurement (
	id        INTEGER PRIMARY KEY,
	log       INTEGER NOT NULL,
	coupon    TEXT NOT NULL REFERENCES coupon (coupon),
	pull      INTEGER NOT NULL,
	spot      TEXT NOT NULL, -- empty: the coupon as a whole
	condition TEXT NOT NULL CHECK (condition IN ('', 'as_found', 'rinsed', 'cleaned')),
	quantity  TEXT NOT NULL CHECK (quantity IN ('haze', 'gloss', 'contact_angle', 'mass', 'thickness')),
	value     REAL NOT NULL,
	u         REAL CHECK (u > 0), -- standard uncertainty
	unit      TEXT NOT NULL CHECK (unit = CASE quantity WHEN 'haze' THEN 'percent' WHEN 'gloss' THEN 'GU'
		WHEN 'contact_angle' THEN 'degrees' WHEN 'mass' THEN 'g' ELSE 'nm' END),
	method    TEXT NOT NULL CHECK (method <> ''),
	date      TEXT NOT NULL, -- ISO 8601
	replicate INTEGER NOT NULL CHECK (replicate >= 1),
	operator  TEXT,
	note      TEXT,
	export    INTEGER NOT NULL REFERENCES export (id), -- the table
	line      INTEGER NOT NULL, -- of the table, from 1
	picture   INTEGER REFERENCES export (id),
	crc       INTEGER NOT NULL
) STRICT;

CREATE UNIQUE INDEX measurement_place
	ON measurement (coupon, pull, spot, condition, quantity, method, date, replicate);

-- As for readings.
CREATE TRIGGER measurement_planned BEFORE INSERT ON measurement
WHEN NOT EXISTS (
	SELECT 1 FROM coupon c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM pull p WHERE p.exposure = c.exposure AND p.pull = new.pull)))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;
CREATE TRIGGER measurement_kept BEFORE DELETE ON measurement BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER measurement_fixed BEFORE UPDATE ON measurement BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- Null where the line was written by a program that did not say so.
ALTER TABLE log ADD COLUMN software TEXT;

CREATE VIEW v_measurements AS
SELECT m.coupon, m.pull, m.spot, m.condition, m.quantity, m.value, m.u, m.unit, m.method, m.date, m.replicate,
	m.operator, m.note, x.name AS export, lower(hex(x.sha256)) AS export_sha256, m.line,
	p.name AS picture, lower(hex(p.sha256)) AS picture_sha256
FROM measurement m
JOIN export x ON x.id = m.export
LEFT JOIN export p ON p.id = m.picture
ORDER BY m.coupon, m.pull, m.spot, m.condition, m.quantity, m.method, m.date, m.replicate;
