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
