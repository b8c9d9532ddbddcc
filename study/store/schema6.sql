-- Version 6.

-- Of gain_pp: the parts of its uncertainty that are shared, in pp and signed, as those of
-- solar_T; and its covariance with solar_T of the same fit, in pp. Null in fits that were
-- made before version 6.
ALTER TABLE fit ADD COLUMN gain_shared_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_glass_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_session_pp REAL;
ALTER TABLE fit ADD COLUMN gain_with_solar_T_pp REAL;

-- Of thickness and solid: the parts of their uncertainties that are shared, in nm and
-- signed, as those of solar_T.
ALTER TABLE fit ADD COLUMN thickness_shared_nm REAL;
ALTER TABLE fit ADD COLUMN thickness_shared_glass_nm REAL;
ALTER TABLE fit ADD COLUMN solid_shared_nm REAL;
ALTER TABLE fit ADD COLUMN solid_shared_glass_nm REAL;

-- The angles of the readings that the fit is of, in degrees, rising, joined by a space.
-- Null in fits that were made before version 6, and where nothing was fitted.
ALTER TABLE fit ADD COLUMN angles_deg TEXT;

DROP TRIGGER fit_fixed;
CREATE TRIGGER fit_fixed BEFORE UPDATE OF
	id, log, coupon, pull, spot, condition, session, digest, state, solar_T, u_solar_T,
	cell_T, u_cell_T, gain_pp, u_gain_pp, thickness_nm, u_thickness_nm, porosity, u_porosity,
	bare_fraction, u_bare_fraction, solid_nm, u_solid_nm, optical_thickness_nm,
	u_optical_thickness_nm, film_index_550nm, u_film_index_550nm, scale, u_scale,
	solar_T_data, solar_share_covered, noise, rms_residual, reduced_chi2, points,
	solar_T_shared, seen_T, seen_lo_nm, seen_hi_nm, model, flags,
	solar_T_shared_glass, solar_T_shared_session,
	gain_shared_pp, gain_shared_glass_pp, gain_shared_session_pp, gain_with_solar_T_pp,
	angles_deg, thickness_shared_nm, thickness_shared_glass_nm, solid_shared_nm, solid_shared_glass_nm
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

DROP VIEW v_results;

-- The current fits, with what the roster says of the coupon and the pull. The dose is that
-- of coupons that are exposed. The state is that of wane results: thinned and full are told
-- apart by the fit of the spot at pull 0, in the same condition, else in a clean one, else
-- in any (thinned: below 0.9 of its thickness by more than 2 standard uncertainties); null
-- where there is none. state_without_history is that of the fit alone: null where it takes
-- pull 0 to tell. change_pp is the plain change, 100 times solar_T less that of the same pull
-- 0; null where there is none. The corrected change is not here, for it needs the controls, nor
-- are the flags that compare pulls or ask what the checks say of a session: wane results
-- has them.
CREATE VIEW v_results AS
SELECT f.coupon, c.role, c.supplier, c.coating, c.lot, c.exposure, f.pull,
	CASE WHEN c.role IN ('exposed', 'blank-exposed') THEN p.dose END AS dose,
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
	f.state AS state_without_history, 100 * (f.solar_T - b.solar_T) AS change_pp
FROM (
	SELECT fit.*, coalesce(
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot, g.condition) = (fit.coupon, 0, fit.spot, fit.condition)),
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, 0, fit.spot) AND g.condition IN ('', 'cleaned') ORDER BY g.condition LIMIT 1),
		(SELECT g.id FROM fit g WHERE g.superseded_by IS NULL AND g.solar_T IS NOT NULL
			AND (g.coupon, g.pull, g.spot) = (fit.coupon, 0, fit.spot) ORDER BY g.condition LIMIT 1)) AS base
	FROM fit WHERE fit.superseded_by IS NULL) f
JOIN coupon c ON c.coupon = f.coupon
LEFT JOIN exposure e ON e.exposure = c.exposure
LEFT JOIN pull p ON p.exposure = c.exposure AND p.pull = f.pull
LEFT JOIN fit b ON b.id = f.base
ORDER BY f.coupon, f.pull, f.spot, f.condition;

-- How many rows each table has after this line, as "study=1 exposure=2 ...": rows are
-- numbered without gaps, so that a row which is missing is noticed without looking at all
-- lines. Null in lines that were written before version 6.
ALTER TABLE log ADD COLUMN totals TEXT;

-- So that these rows can be counted without reading them.
CREATE INDEX original_log ON original (log);
CREATE INDEX fit_log ON fit (log);

-- The film keeps water out of its pores, so that humidity does not change it; null: nobody said so.
ALTER TABLE coupon ADD COLUMN water_repellent TEXT CHECK (water_repellent = 'yes');

-- What guards knew when they looked: the register and the reviews up to this line of
-- the log. guards is the version of the guards. Null in rows that came before version 6.
ALTER TABLE guarding ADD COLUMN last_line INTEGER;
ALTER TABLE guarding ADD COLUMN guards INTEGER;

-- A guard may hold a reading again, for another reason or after it let it go.
DROP VIEW v_held;
DROP VIEW v_spectra;
DROP VIEW v_standings;
DROP TRIGGER review_unheld;
CREATE TABLE hold_5 (id INTEGER, log INTEGER, reading INTEGER, guard TEXT, reason TEXT, crc INTEGER) STRICT;
INSERT INTO hold_5 SELECT id, log, reading, guard, reason, crc FROM hold;
-- then
DROP TABLE hold;
CREATE TABLE hold (
	id      INTEGER PRIMARY KEY,
	log     INTEGER NOT NULL,
	reading INTEGER NOT NULL REFERENCES reading (id),
	guard   TEXT NOT NULL CHECK (guard <> ''),
	reason  TEXT NOT NULL CHECK (reason <> ''),
	crc     INTEGER NOT NULL
) STRICT;
INSERT INTO hold SELECT id, log, reading, guard, reason, crc FROM hold_5;
-- then
DROP TABLE hold_5;
CREATE INDEX hold_reading ON hold (reading);

-- A hold that no longer stands: the guard looked again, and the reason is why.
CREATE TABLE hold_release (
	id     INTEGER PRIMARY KEY,
	log    INTEGER NOT NULL,
	hold   INTEGER NOT NULL UNIQUE REFERENCES hold (id),
	reason TEXT NOT NULL CHECK (reason <> ''),
	crc    INTEGER NOT NULL
) STRICT;

CREATE TRIGGER hold_unreviewed BEFORE INSERT ON hold
WHEN EXISTS (SELECT 1 FROM review v WHERE v.reading = new.reading AND v.log = new.log)
BEGIN SELECT raise(ABORT, 'the reading is reviewed under this line of the log'); END;
CREATE TRIGGER review_unheld BEFORE INSERT ON review
WHEN EXISTS (SELECT 1 FROM hold h WHERE h.reading = new.reading AND h.log = new.log)
BEGIN SELECT raise(ABORT, 'the reading is held under this line of the log'); END;
CREATE TRIGGER hold_kept BEFORE DELETE ON hold BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER hold_release_kept BEFORE DELETE ON hold_release BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER hold_fixed BEFORE UPDATE ON hold BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER hold_release_fixed BEFORE UPDATE ON hold_release BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- The standing of each reading, by what came last: a guard whose hold still stands, or a
-- person who reviewed it. The reason is that of the holds since the last review, or of
-- the review, or why the last hold no longer stands; decided is the line of the log.
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
	FROM reading) AS judged
LEFT JOIN review ON review.id = judged.last;

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

-- The readings that do not enter results: the guards whose holds stand and why, what
-- the last review said, and who decided, when.
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
