-- Version 8.

-- What comes back of the light that arrives at a laminated far face, as a fraction at each wavelength. The
-- coupon names it; null: its far face is not laminated, or nobody has given it.
ALTER TABLE coupon ADD COLUMN return_spectrum TEXT CHECK (return_spectrum <> '');
CREATE TABLE return_spectrum (
	id              INTEGER PRIMARY KEY,
	log             INTEGER NOT NULL,
	return_spectrum TEXT NOT NULL UNIQUE CHECK (return_spectrum <> ''), -- the path as the roster wrote it
	points          INTEGER NOT NULL,
	first_nm        REAL NOT NULL,
	last_nm         REAL NOT NULL,
	nm_packed       BLOB NOT NULL,
	return_packed   BLOB NOT NULL,
	crc             INTEGER NOT NULL
) STRICT;
CREATE TRIGGER return_spectrum_kept BEFORE DELETE ON return_spectrum
BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER return_spectrum_fixed BEFORE UPDATE ON return_spectrum
BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- The geometries that an instrument can read, with spaces between them; null: nothing is stated of it.
ALTER TABLE instrument ADD COLUMN geometry TEXT CHECK (geometry <> '');

-- The share of the pores of films that water filled in a session, where it is declared, and its standard uncertainty.
ALTER TABLE session ADD COLUMN pore_water REAL CHECK (pore_water BETWEEN 0 AND 1);
ALTER TABLE session ADD COLUMN u_pore_water REAL CHECK (u_pore_water >= 0);

-- Of a mixed geometry, the half-angle from the mirror direction within which light is collected; null of others.
ALTER TABLE reading ADD COLUMN half_angle_deg REAL CHECK (half_angle_deg > 0);

-- A standard may be a line, whose value is its wavelength in nm, as is that of its readings.
DROP TRIGGER standard_reading_certified;
CREATE TABLE standard_7 (id INTEGER, log INTEGER, standard TEXT, issued TEXT, angle_deg REAL, polarisation TEXT,
	serial TEXT, certificate TEXT, expires TEXT, quantity TEXT, wavelength_nm REAL, value REAL, u REAL, note TEXT,
	crc INTEGER) STRICT;
INSERT INTO standard_7 SELECT id, log, standard, issued, angle_deg, polarisation, serial, certificate, expires,
	quantity, wavelength_nm, value, u, note, crc FROM standard;
-- then
DROP TABLE standard;
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
	quantity      TEXT NOT NULL CHECK (quantity IN ('R', 'T', 'solar_R', 'solar_T', 'zero', 'line')),
	wavelength_nm REAL, -- null for solar-weighted values, zero and line
	value         REAL NOT NULL,
	u             REAL NOT NULL CHECK (u > 0),
	note          TEXT,
	crc           INTEGER NOT NULL,
	UNIQUE (standard, issued, angle_deg, polarisation),
	CHECK ((quantity IN ('R', 'T')) = (wavelength_nm IS NOT NULL))
) STRICT;
INSERT INTO standard SELECT id, log, standard, issued, angle_deg, polarisation, serial, certificate, expires,
	quantity, wavelength_nm, value, u, note, crc FROM standard_7;
-- then
DROP TABLE standard_7;
CREATE TRIGGER standard_kept BEFORE DELETE ON standard BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER standard_fixed BEFORE UPDATE ON standard BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER standard_reading_certified BEFORE INSERT ON standard_reading
WHEN NOT EXISTS (
	SELECT 1 FROM standard s
	WHERE (s.standard, s.angle_deg, s.polarisation) = (new.standard, new.angle_deg, new.polarisation))
BEGIN SELECT raise(ABORT, 'no certificate has this standard at this angle and polarisation'); END;

-- The texts of protocols, each in versions. kept_protocol of an exposure and of a pull names the version that the
-- study kept when the row was enrolled, as damp-heat@1; null: its protocol is nothing but words.
CREATE TABLE protocol (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	protocol TEXT NOT NULL CHECK (protocol <> ''),
	version  INTEGER NOT NULL CHECK (version >= 1),
	text     TEXT NOT NULL,
	crc      INTEGER NOT NULL,
	UNIQUE (protocol, version)
) STRICT;
CREATE TRIGGER protocol_kept BEFORE DELETE ON protocol BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER protocol_fixed BEFORE UPDATE ON protocol BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
ALTER TABLE exposure ADD COLUMN kept_protocol TEXT CHECK (kept_protocol <> '');
ALTER TABLE pull ADD COLUMN kept_protocol TEXT CHECK (kept_protocol <> '');
CREATE VIEW v_protocols AS
SELECT p.protocol, p.version, p.text, l.who, l.at
FROM protocol p
LEFT JOIN log l ON l.number = p.log
ORDER BY p.protocol, p.version;

-- What transmittance shows of a film, beside its reflectance: the imaginary part of its index, the same at all
-- wavelengths, and what film and residue absorb of sunlight, in pp. Null in fits of reflectance alone, which take the
-- film as lossless; the model of the others is film+k.
ALTER TABLE fit ADD COLUMN film_k REAL;
ALTER TABLE fit ADD COLUMN u_film_k REAL;
ALTER TABLE fit ADD COLUMN absorbed_pp REAL;
ALTER TABLE fit ADD COLUMN u_absorbed_pp REAL;

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
	angles_deg, thickness_shared_nm, thickness_shared_glass_nm, solid_shared_nm, solid_shared_glass_nm,
	effects, joint_fit, errors, film_k, u_film_k, absorbed_pp, u_absorbed_pp
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- With what transmittance shows, after the flags as in wane results.
DROP VIEW v_results;
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
	f.film_k, f.u_film_k, f.absorbed_pp, f.u_absorbed_pp,
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
