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

-- The life of coupons. A coupon that joined late has its own baseline pull; null: 0. Position is where it hangs on the
-- rack, and position of a reading where its spot lies on the coupon, in the words of the laboratory.
ALTER TABLE coupon ADD COLUMN baseline_pull INTEGER CHECK (baseline_pull > 0);
ALTER TABLE coupon ADD COLUMN position TEXT CHECK (position <> '');
ALTER TABLE reading ADD COLUMN position TEXT CHECK (position <> '');

-- What happened to coupons. Of a coupon an event, a pull and a date, null where they are not stated, are there once. dose
-- is what the coupon had received by then, in the unit of the exposure that it is in; of clean and rinse how often that
-- was done, null: once. picture is a path or a name.
CREATE TABLE coupon_event (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	coupon   TEXT NOT NULL REFERENCES coupon (coupon),
	event    TEXT NOT NULL CHECK (event IN
		('start', 'stop', 'transfer', 'clean', 'rinse', 'damage', 'lost', 'broken', 'end')),
	pull     INTEGER CHECK (pull >= 0),
	date     TEXT CHECK (date <> ''),
	exposure TEXT REFERENCES exposure (exposure),
	dose     REAL CHECK (dose >= 0),
	done_by  TEXT,
	note     TEXT,
	picture  TEXT,
	crc      INTEGER NOT NULL
) STRICT;
CREATE UNIQUE INDEX coupon_event_key ON coupon_event (coupon, event, ifnull(pull, -1), ifnull(date, ''));
CREATE INDEX coupon_event_exposure ON coupon_event (exposure) WHERE exposure IS NOT NULL;
CREATE TRIGGER coupon_event_kept BEFORE DELETE ON coupon_event BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER coupon_event_fixed BEFORE UPDATE ON coupon_event BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- What an exposure gave its coupons since the row before, by the end of a day, in the unit of its doses.
CREATE TABLE dose_reading (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	exposure TEXT NOT NULL REFERENCES exposure (exposure),
	date     TEXT NOT NULL CHECK (date <> ''),
	value    REAL NOT NULL CHECK (value >= 0),
	unit     TEXT NOT NULL CHECK (unit IN ('days', 'hours', 'cycles', 'kWh/m2')),
	crc      INTEGER NOT NULL,
	UNIQUE (exposure, date)
) STRICT;
CREATE TRIGGER dose_reading_kept BEFORE DELETE ON dose_reading BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER dose_reading_fixed BEFORE UPDATE ON dose_reading BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- A pull counts as planned for a coupon of its exposure or of one that it went into, and for one without an exposure if
-- any exposure plans it.
DROP TRIGGER reading_planned;
CREATE TRIGGER reading_planned BEFORE INSERT ON reading
WHEN NOT EXISTS (
	SELECT 1 FROM coupon c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull AND (p.exposure = c.exposure OR p.exposure IN
			(SELECT exposure FROM coupon_event v WHERE v.coupon = c.coupon AND v.exposure IS NOT NULL)))))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;
DROP TRIGGER measurement_planned;
CREATE TRIGGER measurement_planned BEFORE INSERT ON measurement
WHEN NOT EXISTS (
	SELECT 1 FROM coupon c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM pull p WHERE p.pull = new.pull AND (p.exposure = c.exposure OR p.exposure IN
			(SELECT exposure FROM coupon_event v WHERE v.coupon = c.coupon AND v.exposure IS NOT NULL)))))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;

-- As in version 8, with the baseline pull of each coupon in the place of pull 0. The dose is the planned one, since that
-- pull: wane results has the actual one, and the exposure in which a coupon was that changed it.
DROP VIEW v_results;
CREATE VIEW v_results AS
SELECT f.coupon, c.role, c.supplier, c.coating, c.lot, c.exposure, f.pull,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN p.dose - ifnull(s.dose, 0) END AS dose,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN e.dose_unit END AS dose_unit,
	p.date, f.spot, f.session, f.condition,
	CASE
		WHEN f.state IS NOT NULL OR c.role IN ('blank', 'blank-exposed') THEN f.state
		WHEN b.id IS NULL THEN NULL
		WHEN b.state = 'unclear' OR coalesce(b.thickness_nm, 0) = 0 THEN 'unclear'
		WHEN f.thickness_nm < 0.9 * b.thickness_nm
			AND (0.9 * b.thickness_nm - f.thickness_nm) * (0.9 * b.thickness_nm - f.thickness_nm)
				> 4 * (coalesce(f.u_thickness_nm * f.u_thickness_nm, 0) + 0.81 * coalesce(b.u_thickness_nm * b.u_thickness_nm, 0))
			THEN 'thinned'
		ELSE 'full'
	END AS state,
	f.solar_T, f.u_solar_T, f.cell_T, f.u_cell_T, f.gain_pp, f.u_gain_pp,
	f.thickness_nm, f.u_thickness_nm, f.porosity, f.u_porosity,
	f.bare_fraction, f.u_bare_fraction, f.solid_nm, f.u_solid_nm,
	f.optical_thickness_nm, f.u_optical_thickness_nm,
	f.film_index_550nm, f.u_film_index_550nm, f.scale, f.u_scale,
	f.solar_T_data, f.solar_share_covered, f.noise, f.rms_residual, f.reduced_chi2,
	CAST(f.points AS INTEGER) AS points, f.model, f.flags,
	f.film_k, f.u_film_k, f.absorbed_pp, f.u_absorbed_pp,
	f.state AS state_without_history, 100 * (f.solar_T - b.solar_T) AS change_pp
FROM (
	SELECT fit.*, coalesce(
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot, g.condition) = (fit.coupon, fit.first_pull, fit.spot, fit.condition)),
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, fit.first_pull, fit.spot) AND g.condition IN ('', 'cleaned') ORDER BY g.condition LIMIT 1),
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, fit.first_pull, fit.spot) ORDER BY g.condition LIMIT 1)) AS base
	FROM (SELECT fit.*, (SELECT ifnull(baseline_pull, 0) FROM coupon WHERE coupon = fit.coupon) AS first_pull
		FROM fit WHERE superseded_by IS NULL) fit) f
JOIN coupon c ON c.coupon = f.coupon
LEFT JOIN exposure e ON e.exposure = c.exposure
LEFT JOIN pull p ON p.exposure = c.exposure AND p.pull = f.pull
LEFT JOIN pull s ON s.exposure = c.exposure AND s.pull = f.first_pull
LEFT JOIN fit b ON b.id = f.base
ORDER BY f.coupon, f.pull, f.spot, f.condition;

-- The reading that stands instead of this one, of the same column of the same export: this one was in a wrong place, or
-- its values were understood wrongly. Null: it is the current one. It is set once, before the reading that it names is
-- added, so that two readings may exchange their places.
ALTER TABLE reading ADD COLUMN superseded_by INTEGER REFERENCES reading (id) DEFERRABLE INITIALLY DEFERRED;
DROP INDEX reading_place;
CREATE UNIQUE INDEX reading_place
	ON reading (coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate) WHERE superseded_by IS NULL;
DROP INDEX reading_column;
CREATE UNIQUE INDEX reading_column ON reading (export, column_number) WHERE superseded_by IS NULL;
CREATE INDEX reading_superseded ON reading (superseded_by) WHERE superseded_by IS NOT NULL;
CREATE INDEX reading_place_before ON reading (coupon, pull, spot) WHERE superseded_by IS NOT NULL;
CREATE INDEX reading_column_before ON reading (export, column_number) WHERE superseded_by IS NOT NULL;

DROP TRIGGER reading_fixed;
CREATE TRIGGER reading_fixed BEFORE UPDATE OF
	id, log, coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate, session, operator, geometry,
	orientation_deg, export, column_number, heading, grid, mean, values_packed, first_line, last_line, intake, reference,
	reference_issued, noise, band_first_nm, bands_packed, twin, mounting, half_angle_deg, position
ON reading BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER reading_superseded_once BEFORE UPDATE ON reading
WHEN old.superseded_by IS NOT NULL OR new.superseded_by IS NULL OR new.superseded_by <= (SELECT max(id) FROM reading)
BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER reading_supersedes BEFORE INSERT ON reading
WHEN EXISTS (SELECT 1 FROM reading r WHERE r.superseded_by = new.id
	AND (r.export, r.column_number) <> (new.export, new.column_number))
BEGIN SELECT raise(ABORT, 'a reading stands instead of one of the same column'); END;

DROP TRIGGER fit_of_readings;
CREATE TRIGGER fit_of_readings BEFORE INSERT ON fit
WHEN NOT EXISTS (
	SELECT 1 FROM reading r WHERE r.superseded_by IS NULL
	AND (r.coupon, r.pull, r.spot, r.condition) = (new.coupon, new.pull, new.spot, new.condition))
BEGIN SELECT raise(ABORT, 'there are no readings to this fit'); END;

-- The standing of each current reading: see version 6.
DROP VIEW v_held;
DROP VIEW v_spectra;
DROP VIEW v_standings;
CREATE VIEW v_standings AS
SELECT judged.reading, iif(held > reviewed, 'held', coalesce(review.standing, 'counted')) AS standing,
	CASE WHEN held > reviewed THEN
		(SELECT group_concat(reason, '; ') FROM (SELECT h.reason FROM hold h WHERE h.reading = judged.reading AND h.log > reviewed
			AND NOT EXISTS (SELECT 1 FROM hold_release l WHERE l.hold = h.id) ORDER BY h.id))
	WHEN reviewed > 0 THEN review.why
	ELSE (SELECT l.reason FROM hold_release l JOIN hold h ON h.id = l.hold WHERE h.reading = judged.reading ORDER BY l.id DESC LIMIT 1) END AS reason,
	nullif(iif(max(held, reviewed) > 0, max(held, reviewed),
		coalesce((SELECT max(l.log) FROM hold_release l JOIN hold h ON h.id = l.hold WHERE h.reading = judged.reading), 0)), 0) AS decided
FROM (
	SELECT id AS reading,
		coalesce((SELECT max(h.log) FROM hold h WHERE h.reading = reading.id
			AND NOT EXISTS (SELECT 1 FROM hold_release l WHERE l.hold = h.id)), 0) AS held,
		coalesce((SELECT max(v.log) FROM review v WHERE v.reading = reading.id), 0) AS reviewed,
		(SELECT max(v.id) FROM review v WHERE v.reading = reading.id) AS last
	FROM reading WHERE superseded_by IS NULL) AS judged
LEFT JOIN review ON review.id = judged.last;

-- One row a current spectrum; its points come out with wane export.
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

-- The current readings that do not enter results: see version 6.
CREATE VIEW v_held AS
SELECT r.id AS reading, r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate, r.session,
	x.name AS export, r.column_number, s.standing,
	(SELECT group_concat(guard, '; ') FROM (SELECT h.guard FROM hold h WHERE h.reading = r.id
		AND NOT EXISTS (SELECT 1 FROM hold_release l WHERE l.hold = h.id) ORDER BY h.id)) AS guards,
	(SELECT group_concat(reason, '; ') FROM (SELECT h.reason FROM hold h WHERE h.reading = r.id
		AND NOT EXISTS (SELECT 1 FROM hold_release l WHERE l.hold = h.id) ORDER BY h.id)) AS reasons,
	(SELECT v.why FROM review v WHERE v.reading = r.id ORDER BY v.id DESC LIMIT 1) AS why,
	l.who, l.at
FROM reading r
JOIN export x ON x.id = r.export
JOIN v_standings s ON s.reading = r.id
LEFT JOIN log l ON l.number = s.decided
WHERE s.standing <> 'counted' AND r.id IN (SELECT reading FROM hold UNION SELECT reading FROM review)
ORDER BY r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate;

-- Each reading that is no longer where it was first put: both places, the line of the log that moved it, and why.
CREATE VIEW v_moved AS
SELECT r.id AS reading, r.coupon, r.pull, r.spot, r.condition, r.angle_deg, r.polarisation, r.quantity, r.replicate, r.session,
	m.id AS superseded_by, m.coupon AS to_coupon, m.pull AS to_pull, m.spot AS to_spot, m.condition AS to_condition,
	m.angle_deg AS to_angle_deg, m.polarisation AS to_polarisation, m.quantity AS to_quantity, m.replicate AS to_replicate,
	m.session AS to_session, x.name AS export, r.column_number, m.log, l.who, l.at, l.why
FROM reading r
JOIN reading m ON m.id = r.superseded_by
JOIN export x ON x.id = r.export
LEFT JOIN log l ON l.number = m.log
ORDER BY r.id;

-- The current fits. Not among them are those of spots all of whose readings were moved.
CREATE VIEW v_fits AS
SELECT * FROM fit WHERE superseded_by IS NULL AND EXISTS (
	SELECT 1 FROM reading r WHERE r.superseded_by IS NULL
	AND (r.coupon, r.pull, r.spot, r.condition) = (fit.coupon, fit.pull, fit.spot, fit.condition));

-- As before, of v_fits.
DROP VIEW v_results;
CREATE VIEW v_results AS
SELECT f.coupon, c.role, c.supplier, c.coating, c.lot, c.exposure, f.pull,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN p.dose - ifnull(s.dose, 0) END AS dose,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN e.dose_unit END AS dose_unit,
	p.date, f.spot, f.session, f.condition,
	CASE
		WHEN f.state IS NOT NULL OR c.role IN ('blank', 'blank-exposed') THEN f.state
		WHEN b.id IS NULL THEN NULL
		WHEN b.state = 'unclear' OR coalesce(b.thickness_nm, 0) = 0 THEN 'unclear'
		WHEN f.thickness_nm < 0.9 * b.thickness_nm
			AND (0.9 * b.thickness_nm - f.thickness_nm) * (0.9 * b.thickness_nm - f.thickness_nm)
				> 4 * (coalesce(f.u_thickness_nm * f.u_thickness_nm, 0) + 0.81 * coalesce(b.u_thickness_nm * b.u_thickness_nm, 0))
			THEN 'thinned'
		ELSE 'full'
	END AS state,
	f.solar_T, f.u_solar_T, f.cell_T, f.u_cell_T, f.gain_pp, f.u_gain_pp,
	f.thickness_nm, f.u_thickness_nm, f.porosity, f.u_porosity,
	f.bare_fraction, f.u_bare_fraction, f.solid_nm, f.u_solid_nm,
	f.optical_thickness_nm, f.u_optical_thickness_nm,
	f.film_index_550nm, f.u_film_index_550nm, f.scale, f.u_scale,
	f.solar_T_data, f.solar_share_covered, f.noise, f.rms_residual, f.reduced_chi2,
	CAST(f.points AS INTEGER) AS points, f.model, f.flags,
	f.film_k, f.u_film_k, f.absorbed_pp, f.u_absorbed_pp,
	f.state AS state_without_history, 100 * (f.solar_T - b.solar_T) AS change_pp
FROM (
	SELECT fit.*, coalesce(
		(SELECT g.id FROM v_fits g WHERE g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot, g.condition) = (fit.coupon, fit.first_pull, fit.spot, fit.condition)),
		(SELECT g.id FROM v_fits g WHERE g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, fit.first_pull, fit.spot) AND g.condition IN ('', 'cleaned') ORDER BY g.condition LIMIT 1),
		(SELECT g.id FROM v_fits g WHERE g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, fit.first_pull, fit.spot) ORDER BY g.condition LIMIT 1)) AS base
	FROM (SELECT fit.*, (SELECT ifnull(baseline_pull, 0) FROM coupon WHERE coupon = fit.coupon) AS first_pull
		FROM v_fits fit) fit) f
JOIN coupon c ON c.coupon = f.coupon
LEFT JOIN exposure e ON e.exposure = c.exposure
LEFT JOIN pull p ON p.exposure = c.exposure AND p.pull = f.pull
LEFT JOIN pull s ON s.exposure = c.exposure AND s.pull = f.first_pull
LEFT JOIN fit b ON b.id = f.base
ORDER BY f.coupon, f.pull, f.spot, f.condition;
