package store_test

import (
	"crypto/sha256"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// unitAt is spot a of a coupon at pull 1.
func unitAt(coupon string) study.Unit { return study.Unit{Coupon: coupon, Pull: 1, Spot: "a"} }

// pendingOf is an export that is in the study, with readings as they are to be.
func pendingOf(t *testing.T, s *store.Store, e study.Export, how study.Taking, readings ...study.Reading) store.PendingExport {
	t.Helper()
	p, err := s.PackAgain(e.Name, e.SHA256, readings)
	require.NoError(t, err)
	return store.PendingExport{Packed: p, How: how}
}

// replace replaces readings under a line of the log of its own.
func replace(t *testing.T, s *store.Store, pending ...store.PendingExport) (all []store.Replaced, err error) {
	t.Helper()
	err = s.Write(t.Context(), entry("move"), func(tx *store.Tx) (err error) {
		all, err = tx.Replace(pending)
		return err
	})
	return all, err
}

// to returns readings as readings of another coupon.
func to(coupon string, readings ...study.Reading) (moved []study.Reading) {
	for _, r := range readings {
		r.Coupon = coupon
		moved = append(moved, r)
	}
	return moved
}

// places returns the current readings of the study as "number coupon angle", and those that were moved as
// "number coupon angle -> number".
func places(t *testing.T, s *store.Store, coupons ...string) (all []string) {
	t.Helper()
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		for _, c := range coupons {
			err := v.AllReadingsOf(c, func(k store.KeptReading) error {
				words := fmt.Sprintf("%d %s %g", k.Number, k.Row.Coupon, k.Row.AngleDeg)
				if k.SupersededBy != 0 {
					words += fmt.Sprintf(" -> %d", k.SupersededBy)
				}
				all = append(all, words)
				return nil
			})
			if err != nil {
				return err
			}
		}
		return nil
	}))
	return all
}

func TestTwoCouponsChangePlaces(t *testing.T) {
	s, path := enrolled(t)
	one, ofOne := takeIn(t, s, unitAt("C001"))
	two, ofTwo := takeIn(t, s, unitAt("C002"))
	put(t, s, fitOf(unitAt("C001"), 1), fitOf(unitAt("C002"), 2))
	done, err := replace(t, s, pendingOf(t, s, one, how, to("C002", ofOne...)...),
		pendingOf(t, s, two, how, to("C001", ofTwo...)...))
	require.NoError(t, err)
	assert.Equal(t, []store.Replaced{{0, 2, 5, 1}, {0, 3, 6, 2}, {1, 2, 7, 3}, {1, 3, 8, 4}}, done)
	assert.Equal(t, []string{"1 C001 8 -> 5", "7 C001 8", "2 C001 45 -> 6", "8 C001 45", "3 C002 8 -> 7", "5 C002 8",
		"4 C002 45 -> 8", "6 C002 45"}, places(t, s, "C001", "C002"))

	current, err := s.Readings(t.Context(), unitAt("C001"))
	require.NoError(t, err)
	require.Len(t, current, 2)
	assert.Equal(t, ofTwo[0].Values, current[0].Values)
	found, err := s.Placed(t.Context(), one.SHA256)
	require.NoError(t, err)
	assert.Equal(t, "C002", found[2].Coupon)
	kept, err := s.Original(t.Context(), one.SHA256)
	require.NoError(t, err)
	assert.Equal(t, one.Data, kept.Data, "the export stays as it is")
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		taking, err := v.TakingOf(5)
		assert.Equal(t, how, taking.Row)
		by, fault := v.Instead(1)
		assert.Equal(t, int64(5), by.Number)
		assert.Equal(t, "C002", by.Row.Coupon)
		require.NoError(t, fault)
		of, fault := v.InsteadOf(5)
		assert.Equal(t, int64(1), of.Number)
		require.NoError(t, fault)
		of, fault = v.InsteadOf(1)
		assert.Nil(t, of)
		require.NoError(t, fault)
		gone, _, fault := v.ReadingHeader(1)
		assert.Nil(t, gone)
		return firstError(err, fault)
	}))
	verified(t, s)
	require.NoError(t, s.Close())

	again, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer again.Close()
	verified(t, again)
	_, err = replace(t, again, pendingOf(t, again, one, how, to("C001", ofOne...)...),
		pendingOf(t, again, two, how, to("C002", ofTwo...)...))
	require.NoError(t, err)
	assert.Equal(t, []string{"1 C001 8 -> 5", "7 C001 8 -> 11", "9 C001 8", "2 C001 45 -> 6", "8 C001 45 -> 12", "10 C001 45"},
		places(t, again, "C001"), "and back")
	verified(t, again)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func TestAMoveOntoAnOccupiedPlaceChangesNothing(t *testing.T) {
	s, _ := enrolled(t)
	one, ofOne := takeIn(t, s, unitAt("C001"))
	takeIn(t, s, unitAt("C002"))
	before := dump(t, s)
	for _, c := range []struct {
		name  string
		to    []study.Reading
		words []string
	}{
		{"others are there", to("C002", ofOne...), []string{"column 2 is coupon C002, pull 1, spot a, 8°, u, R, replicate 1, " +
			"which was read before, from column 2 of C002-1-a.csv", "column 3 is"}},
		{"both to one place", []study.Reading{to("C003", ofOne[0])[0], at(to("C003", ofOne[1])[0], 8)},
			[]string{"column 3 would be coupon C003, pull 1, spot a, 8°, u, R, replicate 1, and so would column 2 of C001-1-a.csv"}},
		{"a coupon that is not enrolled", to("C777", ofOne...), []string{"does not fit into the study: coupon C777"}},
		{"a pull that is not planned", []study.Reading{pulled(ofOne[0], 9)}, []string{"does not fit into the study", "pull 9"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := replace(t, s, pendingOf(t, s, one, how, c.to...))
			refused(t, err)
			for _, w := range c.words {
				assert.ErrorContains(t, err, w)
			}
			assert.Equal(t, before, dump(t, s))
		})
	}
	strange, ofStrange := export("strange.csv", unitAt("C003"), 8)
	_, err := replace(t, s, pendingOf(t, s, strange, how, ofStrange...))
	refused(t, err, "strange.csv: it is not in the study")
	assert.Equal(t, before, dump(t, s))
}

func at(r study.Reading, angle float64) study.Reading { r.AngleDeg = angle; return r }
func pulled(r study.Reading, pull int) study.Reading  { r.Pull = pull; return r }

// What says the same stays; what is new or different comes under the way of taking in that is given.
func TestReplaceChangesOnlyWhatDiffers(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := export("three.csv", unitAt("C001"), 8, 45, 60)
	require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
		_, err := tx.AddExport(e, how, readings[:2])
		return err
	}))
	before := dump(t, s)
	done, err := replace(t, s, pendingOf(t, s, e, study.Taking{Digest: sha256.Sum256([]byte("other"))}, readings[:2]...))
	require.NoError(t, err)
	assert.Empty(t, done)
	assert.Equal(t, before, dump(t, s), "nothing is different")

	corrected := study.Taking{Digest: sha256.Sum256([]byte("corrected")), Stated: "unit fraction"}
	tenfold := readings[1]
	tenfold.Values = make([]float64, len(readings[1].Values))
	for i, v := range readings[1].Values {
		tenfold.Values[i] = v * 10
	}
	done, err = replace(t, s, pendingOf(t, s, e, corrected, readings[0], tenfold, readings[2]))
	require.NoError(t, err)
	assert.Equal(t, []store.Replaced{{0, 3, 3, 2}, {0, 4, 4, 0}}, done)
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		for reading, want := range map[int64]study.Taking{1: how, 2: how, 3: corrected, 4: corrected} {
			taking, err := v.TakingOf(reading)
			if err != nil {
				return err
			}
			assert.Equal(t, want, taking.Row, reading)
		}
		return nil
	}))
	current, err := s.Readings(t.Context(), unitAt("C001"))
	require.NoError(t, err)
	require.Len(t, current, 3)
	assert.Equal(t, tenfold.Values, current[1].Values)
	verified(t, s)
}

// A fit is current as long as its unit has a current reading.
func TestAFitWithoutReadingsIsNotCurrent(t *testing.T) {
	s, path := enrolled(t)
	e, readings := takeIn(t, s, unitAt("C001"))
	put(t, s, fitOf(unitAt("C001"), 1))
	fits := func() (all []string) {
		require.NoError(t, s.Fits(t.Context(), func(f *study.Fit) error { all = append(all, f.Coupon); return nil }))
		return all
	}
	assert.Equal(t, []string{"C001"}, fits())
	_, err := replace(t, s, pendingOf(t, s, e, how, to("C002", readings[0])...))
	require.NoError(t, err)
	assert.Equal(t, []string{"C001"}, fits(), "one reading is left")
	_, err = replace(t, s, pendingOf(t, s, e, how, to("C002", readings...)...))
	require.NoError(t, err)
	assert.Empty(t, fits())
	units, err := s.Units(t.Context())
	require.NoError(t, err)
	require.Len(t, units, 1)
	assert.Equal(t, "C002", units[0].Coupon)
	err = s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutFit(fitOf(unitAt("C001"), 3)) })
	refused(t, err, "there are no readings of coupon C001")
	db := raw(t, path)
	for query, want := range map[string]int{
		"SELECT count(*) FROM v_fits": 0, "SELECT count(*) FROM v_results": 0, "SELECT count(*) FROM v_spectra": 2,
		"SELECT count(*) FROM v_standings": 2, "SELECT count(*) FROM v_moved WHERE to_coupon = 'C002' AND coupon = 'C001'": 2,
	} {
		var n int
		require.NoError(t, db.QueryRow(query).Scan(&n))
		assert.Equal(t, want, n, query)
	}
	require.NoError(t, db.Close())

	_, err = replace(t, s, pendingOf(t, s, e, how, readings...))
	require.NoError(t, err)
	assert.Equal(t, []string{"C001"}, fits(), "moved back, the unit has its fit, which is stale")
	units, err = s.Units(t.Context())
	require.NoError(t, err)
	put(t, s, fitOf(unitAt("C001"), 4))
	assert.Equal(t, []string{"C001"}, fits())
	assert.Len(t, units, 1)
	verified(t, s)
}

// Holds and reviews stay with the reading that they are of.
func TestHoldsAndReviewsStayBehind(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := takeIn(t, s, unitAt("C001"))
	require.NoError(t, s.Write(t.Context(), entry("guard"), func(tx *store.Tx) error {
		_, err := tx.Guard(store.Guarding{LastReading: 2, LastLine: 3, Guards: 1, Holds: []study.Hold{hold(1, "noise", "it is noisy")}})
		return err
	}))
	require.NoError(t, s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
		return tx.Review(study.Review{Reading: 2, Standing: study.Aside, Why: "a fingerprint"})
	}))
	moved := to("C002", readings...)
	moved[1].Concerns = []study.Concern{{Guard: "noise", Reason: "it is noisy, too"}}
	_, err := replace(t, s, pendingOf(t, s, e, how, moved...))
	require.NoError(t, err)
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		judged, err := v.Standings()
		assert.Equal(t, study.Held, judged[4].Standing)
		assert.Len(t, judged[1].Holds, 1)
		assert.Len(t, judged[2].Reviews, 1)
		sets, fault := v.ReadingSetsSince(2)
		assert.Equal(t, []store.ReadingSet{{Session: "m1"}}, sets)
		held, wrong := v.HeldIn()
		assert.Equal(t, map[string]int{"m1": 1}, held)
		return firstError(err, fault, wrong)
	}))
	err = s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
		return tx.Review(study.Review{Reading: 1, Standing: study.Aside, Why: "it was moved"})
	})
	refused(t, err, "there is no reading 1")
	verified(t, s)
}

// The readings that a moved one was compared with are compared again.
func TestWhatWasMovedIsSeenByGuards(t *testing.T) {
	s, _ := enrolled(t)
	one, ofOne := export("one.csv", unitAt("C001"), 8)
	two := study.Export{Name: "two.csv", Data: append([]byte("again\n"), one.Data...)}
	two.SHA256 = sha256.Sum256(two.Data)
	ofTwo := to("C002", ofOne...)
	ofTwo[0].Session = "m2"
	for _, x := range []struct {
		e study.Export
		r []study.Reading
	}{{one, ofOne}, {two, ofTwo}} {
		require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
			_, err := tx.AddExport(x.e, how, x.r)
			return err
		}))
	}
	twins := func(since int64) (all []string) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			return v.TwinsSince(since, func(group []store.Twin) error {
				words := ""
				for i := range group {
					words += fmt.Sprintf("%d %s ", group[i].Number, group[i].Coupon)
				}
				all = append(all, words)
				return nil
			})
		}))
		return all
	}
	assert.Equal(t, []string{"1 C001 2 C002 "}, twins(0))
	other := ofTwo[0]
	other.Values = append([]float64{0.5}, other.Values[1:]...)
	_, err := replace(t, s, pendingOf(t, s, two, how, other))
	require.NoError(t, err)
	assert.Equal(t, []string{"1 C001 "}, twins(2), "it is no twin any more")
	assert.Empty(t, twins(3))
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		first, err := v.FirstPullsSince(2)
		assert.Equal(t, map[string]int{"rack": 1}, first)
		return err
	}))
	verified(t, s)
}

// Somebody who has the file brings back a reading that was moved, and makes its checksum fit.
func TestAReadingBroughtBackIsNoticed(t *testing.T) {
	s, path := enrolled(t)
	e, readings := takeIn(t, s, unitAt("C001"))
	_, err := replace(t, s, pendingOf(t, s, e, how, to("C002", readings...)...))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db := raw(t, path)
	run(t, db, "DROP TRIGGER reading_superseded_once; DROP INDEX reading_column; UPDATE reading SET superseded_by = NULL WHERE id = 1")
	require.NoError(t, db.Close())
	found := verifiedAs(t, path)
	assert.Contains(t, found, "table reading, row 1: it is not superseded by the next reading of its column\n")
	assert.Contains(t, found, "table reading, row 1: its checksum is wrong\n")
}

// A reading that was taken in before version 5 does not say how. It moves without that, too.
func TestReadingsOfOldStudiesMove(t *testing.T) {
	for _, name := range []string{"study-v1.wane.gz", "study-v5.wane.gz"} {
		s, err := store.Open(t.Context(), unpacked(t, "testdata/"+name))
		require.NoError(t, err)
		defer s.Close()
		var first store.Kept[study.Reading]
		var sum [sha256.Size]byte
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			err := v.EachReading(func(k store.Kept[study.Reading]) error {
				if first.Number == 0 {
					first = k
				}
				return nil
			})
			files, fault := v.Files()
			for _, f := range files {
				if fmt.Sprintf("%x", f.Row.SHA256) == first.Row.Export {
					sum = f.Row.SHA256
				}
			}
			return firstError(err, fault)
		}))
		moved := first.Row
		moved.Spot = "elsewhere"
		done, err := replace(t, s, pendingOf(t, s, study.Export{Name: "old", SHA256: sum}, study.Taking{}, moved))
		require.NoError(t, err, name)
		require.Len(t, done, 1, name)
		assert.Equal(t, first.Number, done[0].Old)
		verified(t, s)
	}
}

// As of a line before the move, the readings and the fit are where they were.
func TestAMoveIsNotThereAsOfALineBefore(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := takeIn(t, s, unitAt("C001")) // line 3
	put(t, s, fitOf(unitAt("C001"), 1))         // line 4
	_, err := replace(t, s, pendingOf(t, s, e, how, to("C002", readings...)...))
	require.NoError(t, err) // line 5
	for line, want := range map[int64][]string{
		3: {"reading 1 of C001", "reading 2 of C001"},
		4: {"reading 1 of C001", "reading 2 of C001", "fit of C001"},
		5: {"reading 3 of C002", "reading 4 of C002"},
	} {
		var all []string
		require.NoError(t, s.ViewAsOf(t.Context(), line, func(v *store.View) error {
			err := v.EachReading(func(k store.Kept[study.Reading]) error {
				all = append(all, fmt.Sprintf("reading %d of %s", k.Number, k.Row.Coupon))
				return nil
			})
			return firstError(err, v.Fits(func(f *study.Fit) error { all = append(all, "fit of "+f.Coupon); return nil }))
		}))
		assert.Equal(t, want, all, line)
	}
}
