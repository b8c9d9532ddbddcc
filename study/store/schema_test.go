package store_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/store"
)

func TestTheSchemaIsVerified(t *testing.T) {
	const gone = "the rest cannot be read, since tables are missing or altered; SQLite says: SQL logic error: no such "
	for _, c := range []struct{ name, do, findings string }{
		{"as it was", "", ""},
		{"a trigger gone", "DROP TRIGGER fit_fixed", "trigger fit_fixed is missing\n"},
		{"an index gone", "DROP INDEX reading_place", "index reading_place is missing\n"},
		{"a view gone", "DROP VIEW v_spectra", "view v_spectra is missing\n"},
		{"a trigger that does nothing", "DROP TRIGGER fit_kept; CREATE TRIGGER fit_kept BEFORE DELETE ON fit BEGIN SELECT " +
			"1; END", "trigger fit_kept was altered\n"},
		{"a trigger of another table", "DROP TRIGGER fit_kept; CREATE TRIGGER fit_kept BEFORE DELETE ON log BEGIN SELECT " +
			"raise(ABORT, 'a study keeps everything'); END", "trigger fit_kept was altered\n"},
		{"other words in a trigger", "DROP TRIGGER fit_kept; CREATE TRIGGER fit_kept BEFORE DELETE ON fit BEGIN SELECT " +
			"raise(ABORT, 'a study  keeps everything'); END", "trigger fit_kept was altered\n"},
		{"a trigger with other spaces and a comment",
			"DROP TRIGGER fit_kept; CREATE TRIGGER fit_kept -- as it was\n BEFORE DELETE ON\r\n" +
				"fit BEGIN /* ; */\tSELECT raise(ABORT, 'a study keeps everything'); END", ""},
		{"a view with other figures", "DROP VIEW v_spectra; CREATE VIEW v_spectra AS SELECT 1",
			"view v_spectra was altered\n"},
		{"an index that is no more unique", "DROP INDEX reading_column; CREATE INDEX reading_column ON reading (export, " +
			"column_number)", "index reading_column was altered\n"},
		{"foreign objects", "CREATE TABLE notes (note UNIQUE); CREATE INDEX by_lot ON coupon (lot); CREATE VIEW mine AS " +
			"SELECT 1; CREATE TRIGGER spy AFTER INSERT ON log BEGIN SELECT 1; END",
			"index by_lot is not ours\ntable notes is not ours\ntrigger spy is not ours\nview mine is not ours\n"},
		{"statistics of ANALYZE", "ANALYZE", ""},
		{"a column more", "ALTER TABLE coupon ADD COLUMN colour TEXT", "table coupon was altered\n"},
		{"a column called otherwise", "ALTER TABLE glass RENAME COLUMN points TO rows", "table glass was altered\n" +
			"table glass: " + gone +
			"column: glass.points (1)\ntable log, row 3: 4 rows were added under this line, 3 are there\n"},
		{"a table gone", "DROP TABLE glass",
			"table glass is missing\ntrigger glass_fixed is missing\ntrigger glass_kept is missing\n" +
				"table glass: " + gone + "table: glass (1)\ntable log, row 3: 4 rows were added under this line, 3 are there\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filled(t)
			db := raw(t, path)
			run(t, db, c.do)
			assert.NoError(t, db.Close())
			assert.Equal(t, c.findings, verifiedAs(t, path))
		})
	}
}

// By the rules of SQLite for comments and quotes (sqlite.org/lang_comment.html,
// sqlite.org/lang_keywords.html), worked by hand.
func TestNormalisedSQL(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"runs of white space", " a \t\r\n\f b\n", "a b"},
		{"a comment to the end of the line", "a, -- of b\n\tc", "a, c"},
		{"what a comment hides stays hidden", "a -- b\n", "a"},
		{"a comment over lines", "a/* b\n c */d", "a d"},
		{"comments and spaces are one", "a -- x\n /* y */ -- z\n b", "a b"},
		{"no comment within a text", "'--  b' 'c /* d */'", "'--  b' 'c /* d */'"},
		{"a quote within a text", "'it''s  --'  b", "'it''s  --' b"},
		{"no text within a comment", "a -- don't\n  b  'c'", "a b 'c'"},
		{"quoted names", "\"a  b\"  `c  d`  [e  f]", "\"a  b\" `c  d` [e  f]"},
		{"a comment without an end", "a /* b  c", "a /* b c"},
		{"a minus alone", "a - -b", "a - -b"},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, store.Normalise(c.text)) })
	}
}

// Whatever a damaged file says its version is, the study is refused or read as it is: no
// version that it cannot have is believed.
func TestNoVersionIsBelievedThatCannotBe(t *testing.T) {
	path := filled(t)
	want := dumpFile(t, path)
	whole := read(t, path)
	for at := 60; at < 64; at++ { // Source: sqlite.org/fileformat2.html, section 1.3
		for bit := range 8 {
			data := bytes.Clone(whole)
			data[at] ^= 1 << bit
			for name, open := range openers {
				path := filepath.Join(t.TempDir(), "s.wane")
				require.NoError(t, os.WriteFile(path, data, 0o644))
				s, err := open(t.Context(), path)
				about := fmt.Sprintf("byte %d, bit %d, to %s", at, bit, name)
				if err == nil {
					assert.Equal(t, want, dump(t, s), about)
					require.NoError(t, s.Close())
					continue
				}
				refused(t, err, path)
				assert.Regexp(t, "it says that it is of version|made by a newer wane|was not closed", err.Error(), about)
				assert.Equal(t, data, read(t, path), about)
			}
		}
	}
}
