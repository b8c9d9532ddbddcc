-- Version 6.

-- Of gain_pp: the parts of its uncertainty that are shared, in pp and signed, as those of
-- solar_T; and its covariance with solar_T of the same fit, in pp. Null in fits that were
-- made before version 6.
ALTER TABLE fit ADD COLUMN gain_shared_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_glass_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_session_pp REAL;
ALTER TABLE fit ADD COLUMN gain_with_solar_T_pp REAL;

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
	angles_deg
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

DROP VIEW v_results;

-- The current fits, with what the roster says of the coupon and the pull. The dose is that
-- of coupons that are exposed. The state is that of wane results: thinned and full are told
-- apart by the fit of the spot at pull 0, in the same condition, else in a clean one, else
-- in any (thinned: below 0.9 of its thickness by more than 2 standard uncertainties); null
-- where there is none. Changes are not here, for their correction needs the controls, nor
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
	CAST(f.points AS INTEGER) AS points, f.model, f.flags
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
