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
