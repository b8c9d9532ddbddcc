-- Version 2: the route "session", and the parts of u_solar_T that are shared.

CREATE TABLE study_1 (id INTEGER, log INTEGER, correction TEXT, mixing TEXT, created TEXT, crc INTEGER) STRICT;
INSERT INTO study_1 SELECT * FROM study;
-- then
DROP TABLE study;
CREATE TABLE study (
	id         INTEGER PRIMARY KEY CHECK (id = 1),
	log        INTEGER NOT NULL,
	correction TEXT NOT NULL CHECK (correction IN ('none', 'controls', 'session')),
	mixing     TEXT NOT NULL,
	created    TEXT NOT NULL, -- RFC 3339, UTC
	crc        INTEGER NOT NULL
) STRICT;
INSERT INTO study SELECT * FROM study_1;
-- then
DROP TABLE study_1;
CREATE TRIGGER study_kept BEFORE DELETE ON study BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER study_fixed BEFORE UPDATE ON study BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- Parts of u_solar_T, signed: what all fits of coupons of that glass share, and what
-- all fits of that session share. solar_T_shared is that of the coating's skeleton.
ALTER TABLE fit ADD COLUMN solar_T_shared_glass REAL;
ALTER TABLE fit ADD COLUMN solar_T_shared_session REAL;

DROP TRIGGER fit_fixed;
CREATE TRIGGER fit_fixed BEFORE UPDATE OF
	id, log, coupon, pull, spot, condition, session, digest, state, solar_T, u_solar_T,
	cell_T, u_cell_T, gain_pp, u_gain_pp, thickness_nm, u_thickness_nm, porosity, u_porosity,
	bare_fraction, u_bare_fraction, solid_nm, u_solid_nm, optical_thickness_nm,
	u_optical_thickness_nm, film_index_550nm, u_film_index_550nm, scale, u_scale,
	solar_T_data, solar_share_covered, noise, rms_residual, reduced_chi2, points,
	solar_T_shared, seen_T, seen_lo_nm, seen_hi_nm, model, flags,
	solar_T_shared_glass, solar_T_shared_session
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
