-- Version 6.

-- Of gain_pp: the parts of its uncertainty that are shared, in pp and signed, as those of
-- solar_T; and its covariance with solar_T of the same fit, in pp. Null in fits that were
-- made before version 6.
ALTER TABLE fit ADD COLUMN gain_shared_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_glass_pp REAL;
ALTER TABLE fit ADD COLUMN gain_shared_session_pp REAL;
ALTER TABLE fit ADD COLUMN gain_with_solar_T_pp REAL;

DROP TRIGGER fit_fixed;
CREATE TRIGGER fit_fixed BEFORE UPDATE OF
	id, log, coupon, pull, spot, condition, session, digest, state, solar_T, u_solar_T,
	cell_T, u_cell_T, gain_pp, u_gain_pp, thickness_nm, u_thickness_nm, porosity, u_porosity,
	bare_fraction, u_bare_fraction, solid_nm, u_solid_nm, optical_thickness_nm,
	u_optical_thickness_nm, film_index_550nm, u_film_index_550nm, scale, u_scale,
	solar_T_data, solar_share_covered, noise, rms_residual, reduced_chi2, points,
	solar_T_shared, seen_T, seen_lo_nm, seen_hi_nm, model, flags,
	solar_T_shared_glass, solar_T_shared_session,
	gain_shared_pp, gain_shared_glass_pp, gain_shared_session_pp, gain_with_solar_T_pp
ON fit BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
