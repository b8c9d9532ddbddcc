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
CREATE INDEX reading_position ON reading (coupon, pull, spot, condition, position) WHERE position IS NOT NULL;

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

-- Corrections. A row of a roster, of the register or of measurements stays as it was enrolled. An amendment gives one
-- cell of it another value, and what came last counts; a withdrawal takes the row out, and its key stays taken. The
-- columns of the key, and what the program notes of a row, are never amended.
CREATE TABLE amendment (
	id    INTEGER PRIMARY KEY,
	log   INTEGER NOT NULL,
	of    TEXT NOT NULL, -- the table
	row   INTEGER NOT NULL, -- its id there
	field TEXT NOT NULL CHECK (field NOT IN ('id', 'log', 'crc')), -- the column
	value ANY, -- of the type that the column has
	crc   INTEGER NOT NULL,
	UNIQUE (of, row, field, log)
) STRICT;
CREATE TABLE withdrawal (
	id  INTEGER PRIMARY KEY,
	log INTEGER NOT NULL,
	of  TEXT NOT NULL,
	row INTEGER NOT NULL,
	crc INTEGER NOT NULL,
	UNIQUE (of, row)
) STRICT;
CREATE TRIGGER amendment_kept BEFORE DELETE ON amendment BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER withdrawal_kept BEFORE DELETE ON withdrawal BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER amendment_fixed BEFORE UPDATE ON amendment BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER withdrawal_fixed BEFORE UPDATE ON withdrawal BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

CREATE TRIGGER amendment_of_row BEFORE INSERT ON amendment
WHEN NOT CASE new.of
	WHEN 'exposure' THEN new.row IN (SELECT id FROM exposure)
	WHEN 'pull' THEN new.row IN (SELECT id FROM pull)
	WHEN 'glass' THEN new.row IN (SELECT id FROM glass)
	WHEN 'coupon' THEN new.row IN (SELECT id FROM coupon)
	WHEN 'return_spectrum' THEN new.row IN (SELECT id FROM return_spectrum)
	WHEN 'glass_batch' THEN new.row IN (SELECT id FROM glass_batch)
	WHEN 'instrument' THEN new.row IN (SELECT id FROM instrument)
	WHEN 'event' THEN new.row IN (SELECT id FROM event)
	WHEN 'reference' THEN new.row IN (SELECT id FROM reference)
	WHEN 'reference_curve' THEN new.row IN (SELECT id FROM reference_curve)
	WHEN 'standard' THEN new.row IN (SELECT id FROM standard)
	WHEN 'session' THEN new.row IN (SELECT id FROM session)
	WHEN 'standard_reading' THEN new.row IN (SELECT id FROM standard_reading)
	WHEN 'measurement' THEN new.row IN (SELECT id FROM measurement)
	WHEN 'coupon_event' THEN new.row IN (SELECT id FROM coupon_event)
	WHEN 'dose_reading' THEN new.row IN (SELECT id FROM dose_reading)
	ELSE 0 END
BEGIN SELECT raise(ABORT, 'there is no such row to amend'); END;
CREATE TRIGGER amendment_of_key BEFORE INSERT ON amendment
WHEN CASE new.of
	WHEN 'exposure' THEN new.field IN ('exposure')
	WHEN 'pull' THEN new.field IN ('exposure', 'pull')
	WHEN 'glass' THEN new.field IN ('glass')
	WHEN 'coupon' THEN new.field IN ('coupon')
	WHEN 'return_spectrum' THEN new.field IN ('return_spectrum')
	WHEN 'glass_batch' THEN new.field IN ('glass', 'batch')
	WHEN 'instrument' THEN new.field IN ('instrument')
	WHEN 'event' THEN new.field IN ('instrument', 'date', 'event')
	WHEN 'reference' THEN new.field IN ('reference', 'issued')
	WHEN 'reference_curve' THEN new.field IN ('reference', 'issued', 'angle_deg', 'polarisation')
	WHEN 'standard' THEN new.field IN ('standard', 'issued', 'angle_deg', 'polarisation')
	WHEN 'session' THEN new.field IN ('session')
	WHEN 'standard_reading' THEN new.field IN ('session', 'standard', 'angle_deg', 'polarisation', 'replicate')
	WHEN 'measurement' THEN new.field IN ('coupon', 'pull', 'spot', 'condition', 'quantity', 'unit',
		'method', 'date', 'replicate', 'export', 'line')
	WHEN 'coupon_event' THEN new.field IN ('coupon', 'event', 'pull', 'date')
	WHEN 'dose_reading' THEN new.field IN ('exposure', 'date')
	END
BEGIN SELECT raise(ABORT, 'the key of a row is not amended'); END;
CREATE TRIGGER amendment_of_withdrawn BEFORE INSERT ON amendment
WHEN EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = (new.of, new.row))
BEGIN SELECT raise(ABORT, 'the row was withdrawn'); END;
CREATE TRIGGER withdrawal_of_row BEFORE INSERT ON withdrawal
WHEN NOT CASE new.of
	WHEN 'exposure' THEN new.row IN (SELECT id FROM exposure)
	WHEN 'pull' THEN new.row IN (SELECT id FROM pull)
	WHEN 'glass' THEN new.row IN (SELECT id FROM glass)
	WHEN 'coupon' THEN new.row IN (SELECT id FROM coupon)
	WHEN 'return_spectrum' THEN new.row IN (SELECT id FROM return_spectrum)
	WHEN 'glass_batch' THEN new.row IN (SELECT id FROM glass_batch)
	WHEN 'instrument' THEN new.row IN (SELECT id FROM instrument)
	WHEN 'event' THEN new.row IN (SELECT id FROM event)
	WHEN 'reference' THEN new.row IN (SELECT id FROM reference)
	WHEN 'reference_curve' THEN new.row IN (SELECT id FROM reference_curve)
	WHEN 'standard' THEN new.row IN (SELECT id FROM standard)
	WHEN 'session' THEN new.row IN (SELECT id FROM session)
	WHEN 'standard_reading' THEN new.row IN (SELECT id FROM standard_reading)
	WHEN 'measurement' THEN new.row IN (SELECT id FROM measurement)
	WHEN 'coupon_event' THEN new.row IN (SELECT id FROM coupon_event)
	WHEN 'dose_reading' THEN new.row IN (SELECT id FROM dose_reading)
	ELSE 0 END
BEGIN SELECT raise(ABORT, 'there is no such row to withdraw'); END;

-- The tables that people write, as they are now: with what was amended, and without what was withdrawn. The tables
-- themselves hold what was enrolled.
CREATE VIEW v_exposures AS
SELECT t.exposure,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'protocol')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'protocol') ORDER BY a.log DESC
			LIMIT 1), t.protocol) AS protocol,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'site')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'site') ORDER BY a.log DESC
			LIMIT 1), t.site) AS site,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'dose_unit')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'dose_unit') ORDER BY a.log DESC
			LIMIT 1), t.dose_unit) AS dose_unit,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'start')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'start') ORDER BY a.log DESC
			LIMIT 1), t.start) AS start,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'kept_protocol')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('exposure', t.id, 'kept_protocol') ORDER BY a.log DESC
			LIMIT 1), t.kept_protocol) AS kept_protocol
FROM exposure t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('exposure', t.id));

CREATE VIEW v_pulls AS
SELECT t.exposure,
	t.pull,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'dose')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'dose') ORDER BY a.log DESC
			LIMIT 1), t.dose) AS dose,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'date')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'date') ORDER BY a.log DESC
			LIMIT 1), t.date) AS date,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'kept_protocol')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('pull', t.id, 'kept_protocol') ORDER BY a.log DESC
			LIMIT 1), t.kept_protocol) AS kept_protocol
FROM pull t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('pull', t.id));

CREATE VIEW v_coupons AS
SELECT t.coupon,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'role')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'role') ORDER BY a.log DESC
			LIMIT 1), t.role) AS role,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'supplier')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'supplier') ORDER BY a.log DESC
			LIMIT 1), t.supplier) AS supplier,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'coating')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'coating') ORDER BY a.log DESC
			LIMIT 1), t.coating) AS coating,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'lot')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'lot') ORDER BY a.log DESC
			LIMIT 1), t.lot) AS lot,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass') ORDER BY a.log DESC
			LIMIT 1), t.glass) AS glass,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass_mm')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass_mm') ORDER BY a.log DESC
			LIMIT 1), t.glass_mm) AS glass_mm,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'back')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'back') ORDER BY a.log DESC
			LIMIT 1), t.back) AS back,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'exposure')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'exposure') ORDER BY a.log DESC
			LIMIT 1), t.exposure) AS exposure,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'water_repellent')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'water_repellent') ORDER BY a.log DESC
			LIMIT 1), t.water_repellent) AS water_repellent,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass_batch')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'glass_batch') ORDER BY a.log DESC
			LIMIT 1), t.glass_batch) AS glass_batch,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'leak')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'leak') ORDER BY a.log DESC
			LIMIT 1), t.leak) AS leak,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'return_spectrum')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'return_spectrum') ORDER BY a.log DESC
			LIMIT 1), t.return_spectrum) AS return_spectrum,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'baseline_pull')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'baseline_pull') ORDER BY a.log DESC
			LIMIT 1), t.baseline_pull) AS baseline_pull,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'position')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon', t.id, 'position') ORDER BY a.log DESC
			LIMIT 1), t.position) AS position
FROM coupon t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('coupon', t.id));

CREATE VIEW v_glass_batches AS
SELECT t.glass,
	t.batch,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('glass_batch', t.id, 'u_index')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('glass_batch', t.id, 'u_index') ORDER BY a.log DESC
			LIMIT 1), t.u_index) AS u_index,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('glass_batch', t.id, 'model')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('glass_batch', t.id, 'model') ORDER BY a.log DESC
			LIMIT 1), t.model) AS model
FROM glass_batch t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('glass_batch', t.id));

CREATE VIEW v_instruments AS
SELECT t.instrument,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'serial')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'serial') ORDER BY a.log DESC
			LIMIT 1), t.serial) AS serial,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'kind')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'kind') ORDER BY a.log DESC
			LIMIT 1), t.kind) AS kind,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'cone_deg')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'cone_deg') ORDER BY a.log DESC
			LIMIT 1), t.cone_deg) AS cone_deg,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'slit_nm')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'slit_nm') ORDER BY a.log DESC
			LIMIT 1), t.slit_nm) AS slit_nm,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'join_nm')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'join_nm') ORDER BY a.log DESC
			LIMIT 1), t.join_nm) AS join_nm,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_join')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_join') ORDER BY a.log DESC
			LIMIT 1), t.u_join) AS u_join,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_zero')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_zero') ORDER BY a.log DESC
			LIMIT 1), t.u_zero) AS u_zero,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_place')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_place') ORDER BY a.log DESC
			LIMIT 1), t.u_place) AS u_place,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_tilt')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_tilt') ORDER BY a.log DESC
			LIMIT 1), t.u_tilt) AS u_tilt,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_place_zero')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_place_zero') ORDER BY a.log DESC
			LIMIT 1), t.u_place_zero) AS u_place_zero,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_wavelength_nm')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'u_wavelength_nm') ORDER BY a.log DESC
			LIMIT 1), t.u_wavelength_nm) AS u_wavelength_nm,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'geometry')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('instrument', t.id, 'geometry') ORDER BY a.log DESC
			LIMIT 1), t.geometry) AS geometry
FROM instrument t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('instrument', t.id));

CREATE VIEW v_events AS
SELECT t.instrument,
	t.date,
	t.event,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('event', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('event', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note
FROM event t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('event', t.id));

CREATE VIEW v_references AS
SELECT t.reference,
	t.issued,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'serial')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'serial') ORDER BY a.log DESC
			LIMIT 1), t.serial) AS serial,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'certificate')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'certificate') ORDER BY a.log DESC
			LIMIT 1), t.certificate) AS certificate,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'expires')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'expires') ORDER BY a.log DESC
			LIMIT 1), t.expires) AS expires,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'u_scale')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'u_scale') ORDER BY a.log DESC
			LIMIT 1), t.u_scale) AS u_scale,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('reference', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note
FROM reference t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('reference', t.id));

CREATE VIEW v_standards AS
SELECT t.standard,
	t.issued,
	t.angle_deg,
	t.polarisation,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'serial')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'serial') ORDER BY a.log DESC
			LIMIT 1), t.serial) AS serial,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'certificate')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'certificate') ORDER BY a.log DESC
			LIMIT 1), t.certificate) AS certificate,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'expires')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'expires') ORDER BY a.log DESC
			LIMIT 1), t.expires) AS expires,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'quantity')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'quantity') ORDER BY a.log DESC
			LIMIT 1), t.quantity) AS quantity,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'wavelength_nm')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'wavelength_nm') ORDER BY a.log DESC
			LIMIT 1), t.wavelength_nm) AS wavelength_nm,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'value')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'value') ORDER BY a.log DESC
			LIMIT 1), t.value) AS value,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'u')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'u') ORDER BY a.log DESC
			LIMIT 1), t.u) AS u,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note
FROM standard t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('standard', t.id));

CREATE VIEW v_sessions AS
SELECT t.session,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'instrument')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'instrument') ORDER BY a.log DESC
			LIMIT 1), t.instrument) AS instrument,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'date')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'date') ORDER BY a.log DESC
			LIMIT 1), t.date) AS date,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'operator')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'operator') ORDER BY a.log DESC
			LIMIT 1), t.operator) AS operator,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'reference')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'reference') ORDER BY a.log DESC
			LIMIT 1), t.reference) AS reference,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'humidity_percent')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'humidity_percent') ORDER BY a.log DESC
			LIMIT 1), t.humidity_percent) AS humidity_percent,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'temperature_c')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'temperature_c') ORDER BY a.log DESC
			LIMIT 1), t.temperature_c) AS temperature_c,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'condition')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'condition') ORDER BY a.log DESC
			LIMIT 1), t.condition) AS condition,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'pore_water')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'pore_water') ORDER BY a.log DESC
			LIMIT 1), t.pore_water) AS pore_water,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'u_pore_water')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('session', t.id, 'u_pore_water') ORDER BY a.log DESC
			LIMIT 1), t.u_pore_water) AS u_pore_water
FROM session t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('session', t.id));

CREATE VIEW v_coupon_events AS
SELECT t.coupon,
	t.event,
	t.pull,
	t.date,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'exposure')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'exposure') ORDER BY a.log DESC
			LIMIT 1), t.exposure) AS exposure,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'dose')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'dose') ORDER BY a.log DESC
			LIMIT 1), t.dose) AS dose,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'done_by')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'done_by') ORDER BY a.log DESC
			LIMIT 1), t.done_by) AS done_by,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'picture')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('coupon_event', t.id, 'picture') ORDER BY a.log DESC
			LIMIT 1), t.picture) AS picture
FROM coupon_event t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('coupon_event', t.id));

CREATE VIEW v_dose_readings AS
SELECT t.exposure,
	t.date,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('dose_reading', t.id, 'value')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('dose_reading', t.id, 'value') ORDER BY a.log DESC
			LIMIT 1), t.value) AS value,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('dose_reading', t.id, 'unit')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('dose_reading', t.id, 'unit') ORDER BY a.log DESC
			LIMIT 1), t.unit) AS unit
FROM dose_reading t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('dose_reading', t.id));

CREATE VIEW v_standard_readings AS
SELECT t.session,
	t.standard,
	t.angle_deg,
	t.polarisation,
	t.replicate,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('standard_reading', t.id, 'value')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('standard_reading', t.id, 'value') ORDER BY a.log DESC
			LIMIT 1), t.value) AS value
FROM standard_reading t
WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('standard_reading', t.id));

CREATE VIEW v_amendments AS
SELECT a.of, a.row, a.field, a.value, a.log AS line, l.who, l.at, l.why
FROM amendment a
LEFT JOIN log l ON l.number = a.log
ORDER BY a.id;
CREATE VIEW v_withdrawals AS
SELECT w.of, w.row, w.log AS line, l.who, l.at, l.why
FROM withdrawal w
LEFT JOIN log l ON l.number = w.log
ORDER BY w.id;

DROP VIEW v_measurements;
CREATE VIEW v_measurements AS
SELECT m.coupon, m.pull, m.spot, m.condition, m.quantity, m.value, m.u, m.unit, m.method, m.date, m.replicate,
	m.operator, m.note, x.name AS export, lower(hex(x.sha256)) AS export_sha256, m.line,
	p.name AS picture, lower(hex(p.sha256)) AS picture_sha256
FROM (
	SELECT t.coupon, t.pull, t.spot, t.condition, t.quantity, t.unit, t.method, t.date, t.replicate, t.export, t.line,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'value')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'value') ORDER BY a.log DESC
			LIMIT 1), t.value) AS value,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'u')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'u') ORDER BY a.log DESC
			LIMIT 1), t.u) AS u,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'operator')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'operator') ORDER BY a.log DESC
			LIMIT 1), t.operator) AS operator,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'note')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'note') ORDER BY a.log DESC
			LIMIT 1), t.note) AS note,
	iif(EXISTS (SELECT 1 FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'picture')),
		(SELECT a.value FROM amendment a WHERE (a.of, a.row, a.field) = ('measurement', t.id, 'picture') ORDER BY a.log DESC
			LIMIT 1), t.picture) AS picture
	FROM measurement t
	WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('measurement', t.id))) m
JOIN export x ON x.id = m.export
LEFT JOIN export p ON p.id = m.picture
ORDER BY m.coupon, m.pull, m.spot, m.condition, m.quantity, m.method, m.date, m.replicate;

-- What is named must be there now. A pull counts as planned for a coupon of its exposure or of one that it went into,
-- and for one without an exposure if any exposure plans it.
DROP TRIGGER reading_planned;
CREATE TRIGGER reading_planned BEFORE INSERT ON reading
WHEN NOT EXISTS (
	SELECT 1 FROM v_coupons c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = new.pull AND (p.exposure = c.exposure OR p.exposure IN
			(SELECT exposure FROM v_coupon_events v WHERE v.coupon = c.coupon AND v.exposure IS NOT NULL)))))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;
DROP TRIGGER measurement_planned;
CREATE TRIGGER measurement_planned BEFORE INSERT ON measurement
WHEN NOT EXISTS (
	SELECT 1 FROM v_coupons c WHERE c.coupon = new.coupon AND iif(c.exposure IS NULL,
		EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = new.pull),
		EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = new.pull AND (p.exposure = c.exposure OR p.exposure IN
			(SELECT exposure FROM v_coupon_events v WHERE v.coupon = c.coupon AND v.exposure IS NOT NULL)))))
BEGIN SELECT raise(ABORT, 'nobody planned this pull of this coupon'); END;
DROP TRIGGER session_reference;
CREATE TRIGGER session_reference BEFORE INSERT ON session
WHEN new.reference IS NOT NULL AND NOT EXISTS (SELECT 1 FROM v_references r WHERE r.reference = new.reference)
BEGIN SELECT raise(ABORT, 'there is no such reference'); END;
DROP TRIGGER standard_reading_certified;
CREATE TRIGGER standard_reading_certified BEFORE INSERT ON standard_reading
WHEN NOT EXISTS (
	SELECT 1 FROM v_standards s
	WHERE (s.standard, s.angle_deg, s.polarisation) = (new.standard, new.angle_deg, new.polarisation))
BEGIN SELECT raise(ABORT, 'no certificate has this standard at this angle and polarisation'); END;
DROP TRIGGER reading_certified;
CREATE TRIGGER reading_certified BEFORE INSERT ON reading
WHEN new.reference IS NOT NULL AND NOT EXISTS (
	SELECT 1 FROM v_references r WHERE (r.reference, r.issued) = (new.reference, new.reference_issued))
BEGIN SELECT raise(ABORT, 'there is no such certificate'); END;
CREATE TRIGGER coupon_event_coupon BEFORE INSERT ON coupon_event
WHEN NOT EXISTS (SELECT 1 FROM v_coupons c WHERE c.coupon = new.coupon)
	OR new.exposure IS NOT NULL AND NOT EXISTS (SELECT 1 FROM v_exposures e WHERE e.exposure = new.exposure)
BEGIN SELECT raise(ABORT, 'there is no such coupon or exposure'); END;
CREATE TRIGGER dose_reading_exposure BEFORE INSERT ON dose_reading
WHEN NOT EXISTS (SELECT 1 FROM v_exposures e WHERE e.exposure = new.exposure)
BEGIN SELECT raise(ABORT, 'there is no such exposure'); END;
CREATE TRIGGER pull_exposure BEFORE INSERT ON pull
WHEN NOT EXISTS (SELECT 1 FROM v_exposures e WHERE e.exposure = new.exposure)
BEGIN SELECT raise(ABORT, 'there is no such exposure'); END;
CREATE TRIGGER coupon_exposure BEFORE INSERT ON coupon
WHEN new.exposure IS NOT NULL AND NOT EXISTS (SELECT 1 FROM v_exposures e WHERE e.exposure = new.exposure)
BEGIN SELECT raise(ABORT, 'there is no such exposure'); END;
CREATE TRIGGER event_instrument BEFORE INSERT ON event
WHEN NOT EXISTS (SELECT 1 FROM v_instruments i WHERE i.instrument = new.instrument)
BEGIN SELECT raise(ABORT, 'there is no such instrument'); END;
CREATE TRIGGER session_instrument BEFORE INSERT ON session
WHEN NOT EXISTS (SELECT 1 FROM v_instruments i WHERE i.instrument = new.instrument)
BEGIN SELECT raise(ABORT, 'there is no such instrument'); END;
CREATE TRIGGER standard_reading_session BEFORE INSERT ON standard_reading
WHEN NOT EXISTS (SELECT 1 FROM v_sessions s WHERE s.session = new.session)
BEGIN SELECT raise(ABORT, 'there is no such session'); END;

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

-- As in version 8, of v_fits, with the roster as it is now, and with the baseline pull of each coupon in the place of
-- pull 0. The dose is the planned one, since that pull: wane results has the actual one, and the exposure in which a
-- coupon was that changed it.
DROP VIEW v_results;
CREATE VIEW v_results AS
WITH c AS MATERIALIZED (SELECT coupon, role, supplier, coating, lot, exposure FROM v_coupons),
	e AS MATERIALIZED (SELECT exposure, dose_unit FROM v_exposures),
	p AS MATERIALIZED (SELECT exposure, pull, dose, date FROM v_pulls)
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
	FROM (SELECT fit.*, (SELECT ifnull(baseline_pull, 0) FROM v_coupons WHERE coupon = fit.coupon) AS first_pull
		FROM v_fits fit) fit) f
JOIN c ON c.coupon = f.coupon
LEFT JOIN e ON e.exposure = c.exposure
LEFT JOIN p ON p.exposure = c.exposure AND p.pull = f.pull
LEFT JOIN p s ON s.exposure = c.exposure AND s.pull = f.first_pull
LEFT JOIN fit b ON b.id = f.base
ORDER BY f.coupon, f.pull, f.spot, f.condition;

-- What a person gave to a verb, beside exports: maps, rosters and the tables that they name, tables of measurements.
-- The bytes are those of the export. One row for each use: log is the line that used the file.
CREATE TABLE given (
	id     INTEGER PRIMARY KEY,
	log    INTEGER NOT NULL,
	export INTEGER NOT NULL REFERENCES export (id),
	kind   TEXT NOT NULL CHECK (kind <> ''), -- map, roster, table, measurements, corrections
	name   TEXT NOT NULL, -- of the file when it was given
	crc    INTEGER NOT NULL,
	UNIQUE (log, export, kind, name)
) STRICT;
CREATE INDEX given_export ON given (export);
CREATE TRIGGER given_kept BEFORE DELETE ON given BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER given_fixed BEFORE UPDATE ON given BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE VIEW v_given AS
SELECT g.log, l.verb, l.who, l.at, g.kind, g.name, lower(hex(x.sha256)) AS sha256, x.size_bytes
FROM given g
JOIN export x ON x.id = g.export
LEFT JOIN log l ON l.number = g.log
ORDER BY g.id;

-- What a large study had when all that it held was evaluated, so that commands need not look at all its readings: what
-- was read of each coupon, of the readings up to last_reading and of all that was entered up to the line last_line of
-- the log, and fits by this version of the model, none of them stale. packed is derived from the other tables.
CREATE TABLE survey (
	id           INTEGER PRIMARY KEY,
	log          INTEGER NOT NULL,
	last_reading INTEGER NOT NULL,
	last_line    INTEGER NOT NULL,
	model        INTEGER NOT NULL,
	packed       BLOB NOT NULL,
	crc          INTEGER NOT NULL
) STRICT;
CREATE TRIGGER survey_kept BEFORE DELETE ON survey BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER survey_fixed BEFORE UPDATE ON survey BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- Studies that were merged into this one: the name of the file and the end of its log. merged_line has those lines of
-- its log under which something came; merged_rows says which rows of this study came under which of them.
CREATE TABLE merged (
	id   INTEGER PRIMARY KEY,
	log  INTEGER NOT NULL,
	name TEXT NOT NULL,
	line INTEGER NOT NULL, -- the last one of its log
	hash BLOB NOT NULL CHECK (length(hash) = 32), -- of that line
	crc  INTEGER NOT NULL
) STRICT;
CREATE TABLE merged_line (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	merged   INTEGER NOT NULL REFERENCES merged (id),
	number   INTEGER NOT NULL,
	at       TEXT NOT NULL,
	who      TEXT,
	verb     TEXT NOT NULL,
	why      TEXT,
	summary  TEXT,
	software TEXT,
	hash     BLOB NOT NULL CHECK (length(hash) = 32),
	crc      INTEGER NOT NULL,
	UNIQUE (merged, number)
) STRICT;
CREATE TABLE merged_rows (
	id        INTEGER PRIMARY KEY,
	log       INTEGER NOT NULL,
	of        TEXT NOT NULL, -- a table
	first_row INTEGER NOT NULL,
	last_row  INTEGER NOT NULL CHECK (last_row >= first_row),
	line      INTEGER NOT NULL REFERENCES merged_line (id),
	crc       INTEGER NOT NULL
) STRICT;
CREATE INDEX merged_rows_of ON merged_rows (of, last_row);
CREATE TRIGGER merged_kept BEFORE DELETE ON merged BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER merged_fixed BEFORE UPDATE ON merged BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER merged_line_kept BEFORE DELETE ON merged_line BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER merged_line_fixed BEFORE UPDATE ON merged_line BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
CREATE TRIGGER merged_rows_kept BEFORE DELETE ON merged_rows BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER merged_rows_fixed BEFORE UPDATE ON merged_rows BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;
