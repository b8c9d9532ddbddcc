-- Version 1 of the study file.
--
-- Every table: rows are numbered from 1 without gaps; "log" is the line of the
-- log under which the row was added; "crc" is the CRC-32C of the row (row_encode.go).
-- Nothing is changed or deleted, except that superseded_by of a fit is set once.
-- Reflectances and transmittances are fractions, wavelengths vacuum nm, angles
-- degrees from the normal. Columns ending in _packed hold numbers as row_pack.go
-- says.

CREATE TABLE study (
	id         INTEGER PRIMARY KEY CHECK (id = 1),
	log        INTEGER NOT NULL,
	correction TEXT NOT NULL CHECK (correction IN ('none', 'controls')),
	mixing     TEXT NOT NULL,
	created    TEXT NOT NULL, -- RFC 3339, UTC
	crc        INTEGER NOT NULL
) STRICT;

CREATE TABLE exposure (
	id        INTEGER PRIMARY KEY,
	log       INTEGER NOT NULL,
	exposure  TEXT NOT NULL UNIQUE CHECK (exposure <> ''),
	protocol  TEXT,
	site      TEXT,
	dose_unit TEXT NOT NULL CHECK (dose_unit IN ('days', 'hours', 'cycles', 'kWh/m2')),
	start     TEXT, -- ISO 8601
	crc       INTEGER NOT NULL
) STRICT;

CREATE TABLE pull (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	exposure TEXT NOT NULL REFERENCES exposure (exposure),
	pull     INTEGER NOT NULL CHECK (pull >= 0),
	dose     REAL NOT NULL, -- in the dose_unit of the exposure
	date     TEXT, -- ISO 8601
	crc      INTEGER NOT NULL,
	UNIQUE (exposure, pull)
) STRICT;

-- A glass whose index the roster gave as a table: n + ik at each wavelength.
CREATE TABLE glass (
	id        INTEGER PRIMARY KEY,
	log       INTEGER NOT NULL,
	glass     TEXT NOT NULL UNIQUE CHECK (glass <> ''),
	points    INTEGER NOT NULL,
	first_nm  REAL NOT NULL,
	last_nm   REAL NOT NULL,
	nm_packed BLOB NOT NULL,
	n_packed  BLOB NOT NULL,
	k_packed  BLOB NOT NULL,
	crc       INTEGER NOT NULL
) STRICT;

CREATE TABLE coupon (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	coupon   TEXT NOT NULL UNIQUE CHECK (coupon <> ''),
	role     TEXT NOT NULL CHECK (role IN ('exposed', 'control', 'blank', 'blank-exposed')),
	supplier TEXT,
	coating  TEXT,
	lot      TEXT,
	glass    TEXT NOT NULL, -- a known glass, or one of the table glass
	glass_mm REAL,
	back     TEXT NOT NULL CHECK (back IN ('matched', 'blackened', 'bare', 'coated', 'laminated')),
	exposure TEXT REFERENCES exposure (exposure),
	crc      INTEGER NOT NULL
) STRICT;

-- A file that an instrument wrote. Its bytes are in the table original.
CREATE TABLE export (
	id         INTEGER PRIMARY KEY,
	log        INTEGER NOT NULL,
	sha256     BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
	name       TEXT NOT NULL,
	size_bytes INTEGER NOT NULL,
	crc        INTEGER NOT NULL
) STRICT;

-- The bytes of the export with the same number, compressed (Zstandard).
CREATE TABLE original (
	id        INTEGER PRIMARY KEY REFERENCES export (id),
	log       INTEGER NOT NULL,
	data_zstd BLOB NOT NULL,
	crc       INTEGER NOT NULL
) STRICT;

-- The wavelengths of spectra, once for all spectra that share them.
CREATE TABLE grid (
	id        INTEGER PRIMARY KEY,
	log       INTEGER NOT NULL,
	sha256    BLOB NOT NULL UNIQUE, -- of nm_packed
	points    INTEGER NOT NULL,
	first_nm  REAL NOT NULL,
	last_nm   REAL NOT NULL,
	nm_packed BLOB NOT NULL,
	crc       INTEGER NOT NULL
) STRICT;

-- A spectrum: one curve, from one column of an export.
CREATE TABLE reading (
	id              INTEGER PRIMARY KEY,
	log             INTEGER NOT NULL,
	coupon          TEXT NOT NULL REFERENCES coupon (coupon),
	pull            INTEGER NOT NULL,
	spot            TEXT NOT NULL,
	condition       TEXT NOT NULL CHECK (condition IN ('', 'as_found', 'rinsed', 'cleaned')),
	angle_deg       REAL NOT NULL,
	polarisation    TEXT NOT NULL CHECK (polarisation IN ('s', 'p', 'u', 'n')),
	quantity        TEXT NOT NULL CHECK (quantity IN ('R', 'T')),
	replicate       INTEGER NOT NULL CHECK (replicate >= 1),
	session         TEXT,
	operator        TEXT,
	geometry        TEXT,
	orientation_deg REAL,
	export          INTEGER NOT NULL REFERENCES export (id),
	column_number   INTEGER NOT NULL, -- in the export, the wavelength column is 1
	heading         TEXT,
	grid            INTEGER NOT NULL REFERENCES grid (id),
	mean            REAL NOT NULL, -- of the values
	values_packed   BLOB NOT NULL,
	crc             INTEGER NOT NULL
) STRICT;

CREATE UNIQUE INDEX reading_place
	ON reading (coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate);
CREATE UNIQUE INDEX reading_column ON reading (export, column_number);

-- What was found from the readings of one spot of a coupon at a pull, in one
-- condition. The current fit is the one that no other supersedes.
CREATE TABLE fit (
	id                    INTEGER PRIMARY KEY,
	log                   INTEGER NOT NULL,
	coupon                TEXT NOT NULL REFERENCES coupon (coupon),
	pull                  INTEGER NOT NULL,
	spot                  TEXT NOT NULL,
	condition             TEXT NOT NULL,
	session               TEXT,
	digest                BLOB NOT NULL CHECK (length(digest) = 32), -- of all that went in
	state                 TEXT,
	solar_T               REAL,
	u_solar_T             REAL,
	cell_T                REAL,
	u_cell_T              REAL,
	gain_pp               REAL,
	u_gain_pp             REAL,
	thickness_nm          REAL,
	u_thickness_nm        REAL,
	porosity              REAL,
	u_porosity            REAL,
	bare_fraction         REAL,
	u_bare_fraction       REAL,
	solid_nm              REAL,
	u_solid_nm            REAL,
	optical_thickness_nm  REAL,
	u_optical_thickness_nm REAL,
	film_index_550nm      REAL,
	u_film_index_550nm    REAL,
	scale                 REAL,
	u_scale               REAL,
	solar_T_data          REAL,
	solar_share_covered   REAL,
	noise                 REAL,
	rms_residual          REAL,
	reduced_chi2          REAL,
	points                REAL,
	solar_T_shared        REAL, -- part of u_solar_T that all pulls of the spot share, signed
	seen_T                REAL, -- part of solar_T from seen_lo_nm to seen_hi_nm
	seen_lo_nm            REAL,
	seen_hi_nm            REAL,
	model                 TEXT,
	flags                 TEXT, -- words joined by a space
	superseded_by         INTEGER REFERENCES fit (id),
	crc                   INTEGER NOT NULL
) STRICT;

-- Not unique: a newer fit has to be there before the older one can refer to it.
CREATE INDEX fit_current ON fit (coupon, pull, spot, condition) WHERE superseded_by IS NULL;
CREATE INDEX fit_superseded ON fit (superseded_by) WHERE superseded_by IS NOT NULL;

-- Who did what, when and why. content is a digest of the rows added under the
-- line; hash is the SHA-256 of the hash of the line before and of this line.
CREATE TABLE log (
	number  INTEGER PRIMARY KEY,
	at      TEXT NOT NULL, -- RFC 3339, UTC
	who     TEXT,
	verb    TEXT NOT NULL,
	why     TEXT,
	summary TEXT,
	rows    INTEGER NOT NULL, -- added under this line, in all tables
	content BLOB NOT NULL,
	hash    BLOB NOT NULL,
	crc     INTEGER NOT NULL
) STRICT;

-- A pull counts as planned for a coupon of its exposure, and for one without an
-- exposure if any exposure plans it.
CREATE TRIGGER reading_planned BEFORE INSERT ON reading
WHEN NOT EXISTS (
	SELECT 1 FROM coupon c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM pull p WHERE p.exposure = c.exposure AND p.pull = new.pull)))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;

CREATE TRIGGER fit_of_readings BEFORE INSERT ON fit
WHEN NOT EXISTS (
	SELECT 1 FROM reading r
	WHERE (r.coupon, r.pull, r.spot, r.condition) = (new.coupon, new.pull, new.spot, new.condition))
BEGIN SELECT raise(ABORT, 'there are no readings to this fit'); END;

CREATE TRIGGER study_kept BEFORE DELETE ON study BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER exposure_kept BEFORE DELETE ON exposure BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER pull_kept BEFORE DELETE ON pull BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER glass_kept BEFORE DELETE ON glass BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER coupon_kept BEFORE DELETE ON coupon BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER export_kept BEFORE DELETE ON export BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER original_kept BEFORE DELETE ON original BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER grid_kept BEFORE DELETE ON grid BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER reading_kept BEFORE DELETE ON reading BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER fit_kept BEFORE DELETE ON fit BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER log_kept BEFORE DELETE ON log BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;

CREATE TRIGGER study_fixed BEFORE UPDATE ON study BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER exposure_fixed BEFORE UPDATE ON exposure BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER pull_fixed BEFORE UPDATE ON pull BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER glass_fixed BEFORE UPDATE ON glass BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER coupon_fixed BEFORE UPDATE ON coupon BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER export_fixed BEFORE UPDATE ON export BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER original_fixed BEFORE UPDATE ON original BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER grid_fixed BEFORE UPDATE ON grid BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER reading_fixed BEFORE UPDATE ON reading BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER log_fixed BEFORE UPDATE ON log BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- Of a fit, superseded_by may be set once, to a later fit of the same unit, and crc
-- with it.
CREATE TRIGGER fit_fixed BEFORE UPDATE OF
	id, log, coupon, pull, spot, condition, session, digest, state, solar_T, u_solar_T,
	cell_T, u_cell_T, gain_pp, u_gain_pp, thickness_nm, u_thickness_nm, porosity, u_porosity,
	bare_fraction, u_bare_fraction, solid_nm, u_solid_nm, optical_thickness_nm,
	u_optical_thickness_nm, film_index_550nm, u_film_index_550nm, scale, u_scale,
	solar_T_data, solar_share_covered, noise, rms_residual, reduced_chi2, points,
	solar_T_shared, seen_T, seen_lo_nm, seen_hi_nm, model, flags
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER fit_superseded_once BEFORE UPDATE ON fit
WHEN old.superseded_by IS NOT NULL OR NOT EXISTS (
	SELECT 1 FROM fit f WHERE f.id = new.superseded_by AND f.id > old.id
	AND (f.coupon, f.pull, f.spot, f.condition) = (old.coupon, old.pull, old.spot, old.condition))
BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- The current fits, with what the roster says of the coupon and the pull. The
-- dose is that of coupons that are exposed.
CREATE VIEW v_results AS
SELECT f.coupon, c.role, c.supplier, c.coating, c.lot, c.exposure, f.pull,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN p.dose END AS dose,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN e.dose_unit END AS dose_unit,
	p.date, f.spot, f.session, f.condition, f.state,
	f.solar_T, f.u_solar_T, f.cell_T, f.u_cell_T, f.gain_pp, f.u_gain_pp,
	f.thickness_nm, f.u_thickness_nm, f.porosity, f.u_porosity,
	f.bare_fraction, f.u_bare_fraction, f.solid_nm, f.u_solid_nm,
	f.optical_thickness_nm, f.u_optical_thickness_nm,
	f.film_index_550nm, f.u_film_index_550nm, f.scale, f.u_scale,
	f.solar_T_data, f.solar_share_covered, f.noise, f.rms_residual, f.reduced_chi2,
	CAST(f.points AS INTEGER) AS points, f.model, f.flags
FROM fit f
JOIN coupon c ON c.coupon = f.coupon
LEFT JOIN exposure e ON e.exposure = c.exposure
LEFT JOIN pull p ON p.exposure = c.exposure AND p.pull = f.pull
WHERE f.superseded_by IS NULL
ORDER BY f.coupon, f.pull, f.spot, f.condition;

-- One row a spectrum; its points come out with wane export.
CREATE VIEW v_spectra AS
SELECT r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate,
	r.session, r.operator, r.geometry, r.orientation_deg,
	x.name AS export, lower(hex(x.sha256)) AS export_sha256, r.column_number, r.heading,
	g.points, g.first_nm, g.last_nm, r.mean
FROM reading r
JOIN export x ON x.id = r.export
JOIN grid g ON g.id = r.grid
ORDER BY r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate;
