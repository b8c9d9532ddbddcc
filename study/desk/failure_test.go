package desk

import (
	"context"
	"database/sql"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/text"
	"wane/study/store"
)

// plainSQL alters the file of a study that is closed by plain SQL, as another program can:
// without the triggers that would keep it from doing so.
func plainSQL(t *testing.T, path string, queries ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?mode=rw")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	db.SetMaxOpenConns(1)
	triggers, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
	require.NoError(t, err)
	var names []string
	for triggers.Next() {
		var name string
		require.NoError(t, triggers.Scan(&name))
		names = append(names, name)
	}
	require.NoError(t, triggers.Err())
	for _, name := range names {
		_, err := db.Exec("DROP TRIGGER " + name)
		require.NoError(t, err)
	}
	for _, query := range queries {
		_, err := db.Exec(query)
		require.NoError(t, err, query)
	}
}

// failed asserts that err is a failure of the study, and no refusal that could be taken for an answer.
func failed(t *testing.T, err error, words ...string) {
	t.Helper()
	var f *study.Failure
	var r *study.Refusal
	require.ErrorAs(t, err, &f)
	assert.NotErrorAs(t, err, &r)
	for _, w := range words {
		assert.Contains(t, err.Error(), w)
	}
	assert.NotEmpty(t, f.Try)
}

// spots makes a study of three coupons, each read at pulls 0 and 1, in one session, and
// closes it. It returns its path and that of a map of one export more, not yet taken in.
func (f folder) spots(settings study.Settings) (path, more string) {
	ctx := context.Background()
	d, err := New(ctx, filepath.Join(f.path, "made.wane"), settings, tester())
	require.NoError(f.tb, err)
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(f.tb, err)
	m := sessionMapHeader
	for i, coupon := range []string{"E1", "C1", "B1"} {
		for pull := range 2 {
			name := coupon + string(rune('0'+pull)) + ".csv"
			thickness := 120 - 10*float64(pull)
			if coupon == "B1" {
				thickness = 0
			}
			f.export(name, thickness, 0, 2*i+pull)
			m += sessionRows(name, coupon, pull, "s"+string(rune('0'+pull)))
		}
	}
	f.takeIn(d, "map.csv", m)
	require.NoError(f.tb, d.Close())
	f.export("more.csv", 100, 0, 9)
	return filepath.Join(f.path, "made.wane"), mapHeader + strings.ReplaceAll(rows("more.csv", "E1", 1), ",1,1,", ",1,2,")
}

// A reading that was altered is not taken for one that cannot be fitted: fit, joint results and the sample
// of verify fail, and nothing is written.
func TestDamagedReadingIsNoResult(t *testing.T) {
	routes := map[string]study.Settings{
		"alone":      {Correction: study.RouteControls, Mixing: "bruggeman"},
		"sessions":   {Correction: study.RouteSession, Mixing: "bruggeman"},
		"over blank": {Correction: study.RouteControls, Mixing: "bruggeman", OverBlank: true},
	}
	for name, settings := range routes {
		t.Run(name, func(t *testing.T) {
			ctx := context.Background()
			f := newFolder(t)
			path, more := f.spots(settings)
			d := open(t, path)
			_, err := d.Fit(ctx, FitOptions{Workers: 2})
			require.NoError(t, err)
			f.takeIn(d, "more-map.csv", more)
			before := dump(t, d)
			require.NoError(t, d.Close())
			plainSQL(t, path, "UPDATE reading SET mean = mean + 1 WHERE coupon IN ('E1', 'B1') AND pull = 1")

			d = open(t, path)
			damaged := dump(t, d)
			require.NotEqual(t, before, damaged)
			_, err = d.Fit(ctx, FitOptions{Workers: 2})
			failed(t, err, "table reading", "its checksum is wrong")
			assert.Equal(t, damaged, dump(t, d), "fit writes nothing into a study that it found damaged")
			_, err = d.Review(ctx, Selection{Numbers: []int64{1}, AngleDeg: study.Null()}, study.Aside, "a finger mark")
			failed(t, err, "its checksum is wrong")
			err = d.Results(ctx, ResultsOptions{Joint: true}, func(*study.Result) error { return nil })
			failed(t, err, "its checksum is wrong")
			assert.Equal(t, damaged, dump(t, d))
			require.NoError(t, d.Close())
		})
	}
}

// A failure of the study during a preview or while a table is taken in is no refusal of that file.
func TestDamageIsNoRefusalOfAnExport(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	path, text := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	more := f.write("more-map.csv", text)
	plainSQL(t, path, "UPDATE grid SET points = points + 1")
	d := open(t, path)
	_, err := d.Preview(ctx, more, nil, IntakeOptions{Workers: 1})
	failed(t, err, "table grid")
	require.NoError(t, d.Close())

	d = open(t, path)
	in, err := d.Intake(ctx, more, nil, IntakeOptions{Workers: 1})
	failed(t, err, "table grid")
	assert.Empty(t, in.Refused)
	require.NoError(t, d.Close())

	plainSQL(t, path, "UPDATE export SET size_bytes = size_bytes + 1")
	d = open(t, path)
	table := f.write("haze.csv", "coupon,pull,spot,quantity,value,u,unit,method,date,replicate,operator,note,picture\n"+
		"E1,0,1,haze,0.4,,percent,haze-1,2026-01-02,1,ada,,E10.csv\n")
	out, err := d.Measure(ctx, []string{table})
	if err == nil {
		assert.Empty(t, out.Refused)
	}
	failed(t, err, "table export")
	require.NoError(t, d.Close())
}

// A row with the flag not-evaluated whose readings can be evaluated, which an earlier version stored after
// a read error, is found by verify and replaced by fit. A row that is right stays.
func TestNotEvaluatedIsFound(t *testing.T) {
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			ctx := context.Background()
			f := newFolder(t)
			path, _ := f.spots(study.Settings{Correction: route, Mixing: "bruggeman"})
			d := open(t, path)
			_, err := d.Fit(ctx, FitOptions{Workers: 1})
			require.NoError(t, err)
			good := results(t, d)
			var was *study.Fit
			require.NoError(t, d.store.Fits(ctx, func(f *study.Fit) error {
				if f.Coupon == "E1" && f.Pull == 1 {
					was = f
				}
				return nil
			}))
			bad := evaluate.NotEvaluated(study.Exposed, was.Unit)
			require.NoError(t, d.store.Write(ctx, d.entry("fit", "a read error"), func(tx *store.Tx) error {
				if err := tx.PutFit(bad); err != nil {
					return err
				}
				bad.Digest = was.Digest // as if it had been made of the same
				return tx.PutFit(bad)
			}))

			v, err := d.Verify(ctx, VerifyOptions{Workers: 1})
			require.NoError(t, err)
			assert.False(t, v.Sound())
			require.Len(t, v.Evaluable, 1)
			assert.Equal(t, was.Unit, v.Evaluable[0])
			n, err := d.Fit(ctx, FitOptions{Workers: 1})
			require.NoError(t, err)
			assert.GreaterOrEqual(t, n.Fits, 1)
			assert.Equal(t, printed(good...), printed(results(t, d)...))
			v, err = d.Verify(ctx, VerifyOptions{Workers: 1})
			require.NoError(t, err)
			assert.True(t, v.Sound(), "%+v", v)
			require.NoError(t, d.Close())
		})
	}
}

// Spots share the refusal of one cause, and each names its own coupon once (the race detector runs this
// test).
func TestSharedRefusalIsNotEdited(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman", OverBlank: true}, tester())
	require.NoError(t, err)
	coupons := couponHeader + "B1,blank,,,,soda-lime,3.2,bare,\n"
	m := sessionMapHeader
	f.export("B1.csv", 0, 0, 1)
	m += sessionRows("B1.csv", "B1", 0, "s0")
	const many = 16
	for i := range many {
		code := "E" + string(rune('a'+i))
		coupons += code + ",exposed,m,K,1,soda-lime,,matched,roof\n"
		f.export(code+".csv", 120, 0, 2+i)
		m += sessionRows(code+".csv", code, 0, "s0")
	}
	_, err = d.Enrol(ctx, append(f.rosters()[1:], f.write("many.csv", coupons)))
	require.NoError(t, err)
	_, err = d.Intake(ctx, f.write("map.csv", m), nil, IntakeOptions{Workers: 4, Stated: text.Stated{}})
	require.NoError(t, err)
	released(t, d)
	n, err := d.Fit(ctx, FitOptions{Workers: 4})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(n.Refused), many)
	for _, r := range n.Refused {
		assert.Equal(t, 1, strings.Count(r.Error(), "coupon "), "%v", r)
	}
	require.NoError(t, d.Close())
}

// released counts all readings that guards hold.
func released(t *testing.T, d *Desk) {
	t.Helper()
	of := Everything()
	of.Held = true
	held, err := d.Judgements(context.Background(), of)
	require.NoError(t, err)
	if len(held) == 0 {
		return
	}
	_, err = d.Review(context.Background(), of, study.Counted, "the made-up numbers are meant so")
	require.NoError(t, err)
}

func open(t *testing.T, path string) *Desk {
	t.Helper()
	d, err := Open(context.Background(), path, tester())
	require.NoError(t, err)
	return d
}

// If two fits run at once, each counts what it stored itself as new, and what the other one stored as up
// to date.
func TestTwoFitsCountWhatTheyStored(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "two.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	f.export("a.csv", 120, 0, 1)
	f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0))
	w, err := d.currentWorkspace(ctx, 1)
	require.NoError(t, err)
	var reported [2]Fitted
	lines := 0
	for i := range reported {
		done := 0
		fits := d.newFitBatch(ctx, &reported[i], 1, func(n, _ int) { done = n })
		require.NoError(t, fits.finish(inOrder(ctx, 1, slices.Values(w.jobs()), w.fit, fits.add)))
		assert.Equal(t, 1, done)
		n := 0
		require.NoError(t, d.Log(ctx, func(study.Entry) error { n++; return nil }))
		if i == 1 {
			assert.Equal(t, lines, n, "nothing was added")
		}
		lines = n
	}
	assert.Equal(t, [2]int{1, 0}, [2]int{reported[0].Fits, reported[0].Current})
	assert.Equal(t, [2]int{0, 1}, [2]int{reported[1].Fits, reported[1].Current})
	require.NoError(t, d.Close())
}
