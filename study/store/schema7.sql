-- Version 7.

-- What the uncertainties of a fit are made of. effects names its errors: lists of owners and
-- names, as "session:scale,zero;batch:glass_index". Whom the owner session, coupon, batch,
-- coating, spot or instrument is follows from the fit, its coupon and its session; joint_fit
-- names the joint fit that is the owner joint. errors holds, for each effect in this order, by
-- how much solar_T, cell_T, gain_pp, solid_nm and thickness_nm are off when it is off by one
-- standard uncertainty, and then what no other fit shares: the covariance of these five, by
-- rows, each up to the diagonal. Numbers are float32, little-endian. Null in fits that were
-- made before version 7, and where nothing was fitted. Such fits have in their place
-- solar_T_shared, and the columns with _shared_ in their names, which are null now.
ALTER TABLE fit ADD COLUMN effects TEXT;
ALTER TABLE fit ADD COLUMN joint_fit TEXT;
ALTER TABLE fit ADD COLUMN errors BLOB;

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
	effects, joint_fit, errors
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- What a laboratory has measured of an instrument, as standard uncertainties: of what stray and dark light
-- add in a session (a fraction), of the factor of a placement, of its tilt (degrees), of what light around
-- the coupon adds in it (a fraction), and of the wavelengths of a session (nm). Null: what is assumed by
-- default.
ALTER TABLE instrument ADD COLUMN u_zero REAL CHECK (u_zero >= 0);
ALTER TABLE instrument ADD COLUMN u_place REAL CHECK (u_place >= 0);
ALTER TABLE instrument ADD COLUMN u_tilt REAL CHECK (u_tilt >= 0);
ALTER TABLE instrument ADD COLUMN u_place_zero REAL CHECK (u_place_zero >= 0);
ALTER TABLE instrument ADD COLUMN u_wavelength_nm REAL CHECK (u_wavelength_nm >= 0);

-- The batch of the glass of a coupon; null: glass and supplier stand for it. The leak is the rms of the share
-- of light that a matched far face returns; null: what is assumed by default.
ALTER TABLE coupon ADD COLUMN glass_batch TEXT CHECK (glass_batch <> '');
ALTER TABLE coupon ADD COLUMN leak REAL CHECK (leak >= 0);

-- The coupon was set down anew for the second, third, ... time; null: the first.
ALTER TABLE reading ADD COLUMN mounting INTEGER CHECK (mounting > 1);

-- What is known of a batch of glass: the standard uncertainty of its index against the formula or table of
-- the glass (null: what is assumed by default), and its dispersion, in words.
CREATE TABLE glass_batch (
	id      INTEGER PRIMARY KEY,
	log     INTEGER NOT NULL,
	glass   TEXT NOT NULL CHECK (glass <> ''),
	batch   TEXT NOT NULL CHECK (batch <> ''),
	u_index REAL CHECK (u_index >= 0),
	model   TEXT,
	crc     INTEGER NOT NULL,
	UNIQUE (glass, batch)
) STRICT;
CREATE TRIGGER glass_batch_kept BEFORE DELETE ON glass_batch BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER glass_batch_fixed BEFORE UPDATE ON glass_batch BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- A standard may be a light trap, whose quantity is zero.
DROP TRIGGER standard_reading_certified;
CREATE TABLE standard_6 (id INTEGER, log INTEGER, standard TEXT, issued TEXT, angle_deg REAL, polarisation TEXT,
	serial TEXT, certificate TEXT, expires TEXT, quantity TEXT, wavelength_nm REAL, value REAL, u REAL, note TEXT,
	crc INTEGER) STRICT;
INSERT INTO standard_6 SELECT id, log, standard, issued, angle_deg, polarisation, serial, certificate, expires,
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
	quantity      TEXT NOT NULL CHECK (quantity IN ('R', 'T', 'solar_R', 'solar_T', 'zero')),
	wavelength_nm REAL, -- null for solar-weighted values and zero
	value         REAL NOT NULL,
	u             REAL NOT NULL CHECK (u > 0),
	note          TEXT,
	crc           INTEGER NOT NULL,
	UNIQUE (standard, issued, angle_deg, polarisation),
	CHECK ((quantity IN ('R', 'T')) = (wavelength_nm IS NOT NULL))
) STRICT;
INSERT INTO standard SELECT id, log, standard, issued, angle_deg, polarisation, serial, certificate, expires,
	quantity, wavelength_nm, value, u, note, crc FROM standard_6;
-- then
DROP TABLE standard_6;
CREATE TRIGGER standard_kept BEFORE DELETE ON standard BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER standard_fixed BEFORE UPDATE ON standard BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER standard_reading_certified BEFORE INSERT ON standard_reading
WHEN NOT EXISTS (
	SELECT 1 FROM standard s
	WHERE (s.standard, s.angle_deg, s.polarisation) = (new.standard, new.angle_deg, new.polarisation))
BEGIN SELECT raise(ABORT, 'no certificate has this standard at this angle and polarisation'); END;
