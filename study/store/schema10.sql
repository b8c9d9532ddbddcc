-- Version 10.

-- Rules of acceptance, as they were written. A name is used once.
CREATE TABLE rule (
	id   INTEGER PRIMARY KEY,
	log  INTEGER NOT NULL,
	rule TEXT NOT NULL UNIQUE CHECK (rule <> ''),
	text TEXT NOT NULL,
	crc  INTEGER NOT NULL
) STRICT;
CREATE TRIGGER rule_kept BEFORE DELETE ON rule BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER rule_fixed BEFORE UPDATE ON rule BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- What a rule said of a group of coupons, when it was judged: line is the last one of the log then, and digest is of what
-- went in. looked names the readings that were looked at, and row is what was printed; both are in JSON.
CREATE TABLE verdict (
	id       INTEGER PRIMARY KEY,
	log      INTEGER NOT NULL,
	rule     INTEGER NOT NULL REFERENCES rule (id),
	of_group TEXT NOT NULL,
	line     INTEGER NOT NULL CHECK (line >= 1 AND line < log),
	digest   BLOB NOT NULL CHECK (length(digest) = 32),
	verdict  TEXT NOT NULL CHECK (verdict IN ('accept', 'reject', 'undecided')),
	looked   TEXT NOT NULL CHECK (json_valid(looked)),
	row      TEXT NOT NULL CHECK (json_valid(row)),
	crc      INTEGER NOT NULL,
	UNIQUE (rule, of_group, log)
) STRICT;
CREATE TRIGGER verdict_kept BEFORE DELETE ON verdict BEGIN SELECT raise(ABORT, 'a study keeps everything'); END;
CREATE TRIGGER verdict_fixed BEFORE UPDATE ON verdict BEGIN SELECT raise(ABORT, 'a study changes nothing'); END;

-- The verdicts as they were issued, with the day of the rule.
CREATE VIEW v_verdicts AS
SELECT r.rule, v.of_group, v.verdict, v.line, v.log, l.at, l.who, r.log AS rule_log, k.at AS rule_at, v.row
FROM verdict v
JOIN rule r ON r.id = v.rule
LEFT JOIN log l ON l.number = v.log
LEFT JOIN log k ON k.number = r.log
ORDER BY v.id;
