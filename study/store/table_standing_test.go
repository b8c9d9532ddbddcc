package store_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// guard adds holds as the next look of the guards, up to a reading, and returns how many it added.
func guard(t testing.TB, s *store.Store, upTo int64, holds ...study.Hold) (added int, err error) {
	t.Helper()
	return found(t, s, store.Guarding{LastReading: upTo, Holds: holds})
}

// found adds what guards found as their next look, and returns how many rows of holds and
// releases it added.
func found(t testing.TB, s *store.Store, l store.Guarding) (added int, err error) {
	t.Helper()
	l.After = guarded(t, s).After
	count := func() (n int) {
		for _, j := range judged(t, s) {
			n += len(j.Holds) + 2*len(j.Released)
		}
		return n
	}
	before := count()
	err = s.Write(t.Context(), entry("guard"), func(tx *store.Tx) error {
		fresh, err := tx.Guard(l)
		assert.Equal(t, err == nil, fresh)
		return err
	})
	return count() - before, err
}

// guarded returns the last look.
func guarded(t testing.TB, s *store.Store) (last store.Guarding) {
	t.Helper()
	require.NoError(t, s.View(t.Context(), func(v *store.View) (err error) {
		last, _, _, err = v.Guarded()
		return err
	}))
	return last
}

func review(t testing.TB, s *store.Store, reading int64, standing study.Standing, why string) error {
	t.Helper()
	return s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
		return tx.Review(study.Review{Reading: reading, Standing: standing, Why: why})
	})
}

func judged(t testing.TB, s *store.Store) (all map[int64]store.Judged) {
	t.Helper()
	require.NoError(t, s.View(t.Context(), func(v *store.View) (err error) {
		all, err = v.Standings()
		return err
	}))
	return all
}

// What came last decides, in what is read, in the digest of the unit, and in what other
// programs see.
func TestHoldsAndReviews(t *testing.T) {
	s, path := enrolled(t)                                       // lines 1 and 2
	_, readings := takeIn(t, s, unitA)                           // line 3: readings 1 and 2
	takeIn(t, s, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"}) // line 4: readings 3 and 4
	before := allUnits(t, s)
	other := hold(2, "level", "it lies higher")
	seen := map[[32]byte]string{before[0].Readings: "all counted"}
	for _, c := range []struct {
		name       string
		do         func() error
		now        study.Standing // of reading 1
		held       int
		aside      int
		inSpectra  string
		seenBefore string // when the digest of the unit was the same
	}{
		{"nothing yet", func() error { return nil }, study.Counted, 0, 0, "counted|", "all counted"},
		{"a guard holds it", func() error { _, err := guard(t, s, 2, hold(1, "noise", "it is noisy")); return err },
			study.Held, 1, 0, "held|it is noisy", ""},
		{"another guard too", func() error { _, err := guard(t, s, 2, hold(1, "level", "it lies lower")); return err },
			study.Held, 1, 0, "held|it is noisy; it lies lower", "a guard holds it"},
		{"a person counts it", func() error { return review(t, s, 1, study.Counted, "the lamp was new") }, study.Counted, 0,
			0, "counted|the lamp was new", "all counted"},
		{"the same guard again", func() error {
			_,
				err := guard(t, s, 2, hold(1, "level", "it still lies lower"))
			return err
		}, study.Counted, 0, 0,
			"counted|the lamp was new", "all counted"},
		{"a third guard, too late", func() error { _, err := guard(t, s, 2, hold(1, "twin", "it is a copy")); return err },
			study.Counted, 0, 0, "counted|the lamp was new", "all counted"},
		{"a person sets it aside", func() error { return review(t, s, 1, study.Aside, "it is") }, study.Aside, 0, 1,
			"aside|it is", ""},
		{"the other reading is held", func() error { _, err := guard(t, s, 2, other); return err }, study.Aside, 1, 1,
			"aside|it is", ""},
		{"and set aside", func() error { return review(t, s, 2, study.Aside, "a scratch") }, study.Aside, 0, 2,
			"aside|it is", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, c.do())
			assert.Equal(t, c.now, judged(t, s)[1].Standing)
			units := allUnits(t, s)
			require.Len(t, units, 2)
			assert.Equal(t, before[1], units[1], "the other unit")
			assert.Equal(t, unitA, units[0].Unit)
			assert.Equal(t, []int{2 - c.held - c.aside, c.held, c.aside}, []int{units[0].Counted, units[0].Held, units[0].Aside})
			assert.Equal(t, c.seenBefore, seen[units[0].Readings])
			if c.seenBefore == "" {
				seen[units[0].Readings] = c.name
			}
			got, err := s.Readings(t.Context(), unitA)
			require.NoError(t, err)
			assert.Len(t, got, units[0].Counted)
			if units[0].Counted == 1 {
				assert.Equal(t, readings[1].Place, got[0].Place)
			}
			assert.Equal(t, []string{c.inSpectra},
				ask(t, path, "SELECT standing, reason FROM v_spectra WHERE coupon = 'C001' AND angle_deg = 8"))
		})
	}
	assert.Equal(t, "m1", allUnits(t, s)[0].Session, "none is counted: that of the others")
	assert.Equal(t, "m1", before[0].Session)
	t.Run("all readings are still there", func(t *testing.T) {
		n := 0
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			return v.ReadingsOf("C001", func(store.Kept[study.Reading]) error { n++; return nil })
		}))
		assert.Equal(t, 2, n)
	})
	t.Run("all that was said, in its order", func(t *testing.T) {
		j := judged(t, s)
		require.Len(t, j, 2)
		assert.Equal(t, []store.Kept[study.Hold]{
			{Row: hold(1, "noise", "it is noisy"), Number: 1, Line: 5},
			{Row: hold(1, "level", "it lies lower"), Number: 2, Line: 6},
		}, j[1].Holds)
		assert.Equal(t, []store.Kept[study.Review]{
			{Row: study.Review{Reading: 1, Standing: study.Counted, Why: "the lamp was new"}, Number: 1, Line: 7},
			{Row: study.Review{Reading: 1, Standing: study.Aside, Why: "it is"}, Number: 2, Line: 8},
		}, j[1].Reviews)
	})
	t.Run("v_held", func(t *testing.T) {
		assert.Equal(t, []string{
			"1|8.0|C001-1-a.csv|2|aside|noise; level|it is noisy; it lies lower|it is|ada|2031-03-01T08:00:00Z",
			"2|45.0|C001-1-a.csv|3|aside|level|it lies higher|a scratch|ada|2031-03-01T08:00:00Z",
		}, ask(t, path,
			"SELECT reading, angle_deg, export, column_number, standing, guards, reasons, why, who, at FROM v_held"))
	})
	verified(t, s)
}

func TestReviewsRefused(t *testing.T) {
	s, _ := enrolled(t)
	takeIn(t, s, unitA)
	require.NoError(t, review(t, s, 2, study.Aside, "a scratch"))
	before := dump(t, s)
	for _, c := range []struct {
		name     string
		reading  int64
		standing study.Standing
		why      string
		words    []string
	}{
		{"no such reading", 3, study.Aside, "a scratch", []string{"no reading 3"}},
		{"no reason", 1, study.Aside, "", []string{"reading 1", "why"}},
		{"a blank reason", 1, study.Aside, " \t", []string{"reading 1", "why"}},
		{"it was never held", 1, study.Counted, "it is fine", []string{"reading 1 is counted already"}},
		{"it is aside", 2, study.Aside, "another scratch", []string{"reading 2 is aside already"}},
		{"only guards hold", 1, study.Held, "it looks odd", []string{"reading 1", "held"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			refused(t, review(t, s, c.reading, c.standing, c.why), c.words...)
			assert.Equal(t, before, dump(t, s))
		})
	}
	t.Run("held and reviewed at once", func(t *testing.T) {
		require.NoError(t, s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
			fresh, err := tx.Guard(store.Guarding{LastReading: 1, Holds: []study.Hold{hold(1, "noise", "it is noisy")}})
			require.NoError(t, err)
			require.True(t, fresh)
			refused(t, tx.Review(study.Review{Reading: 1, Standing: study.Counted, Why: "it is not"}), "reading 1")
			require.NoError(t, tx.Review(study.Review{Reading: 2, Standing: study.Counted, Why: "wiped"}))
			return nil
		}))
		j := judged(t, s)
		assert.Equal(t, study.Held, j[1].Standing)
		assert.Equal(t, study.Counted, j[2].Standing)
	})
	verified(t, s)
}

func TestGuard(t *testing.T) {
	s, _ := enrolled(t)
	assert.Equal(t, store.Guarding{}, guarded(t, s))
	takeIn(t, s, unitA)
	noisy := hold(1, "noise", "it is noisy")
	for _, c := range []struct {
		name       string
		upTo       int64
		holds      []study.Hold
		added      int
		marked     int64
		wordsOfNay []string
	}{
		{"nothing", 0, nil, 0, 0, nil},
		{"two holds, one of them twice", 1, []study.Hold{noisy, hold(1, "level", "it lies lower"), noisy}, 2, 1, nil},
		{"again", 1, []study.Hold{noisy}, 0, 1, nil},
		{"the marker does not go back", 0, nil, 0, 1, nil},
		{"the marker alone", 2, nil, 0, 2, nil},
		{"beyond the last reading", 3, []study.Hold{hold(2, "noise", "it is noisy")}, 0, 2, []string{"no reading 3"}},
		{"a reading that is not there", 2, []study.Hold{hold(9, "noise", "it is noisy")}, 0, 2, []string{"reading 9"}},
		{"no guard", 2, []study.Hold{hold(2, "", "it is noisy")}, 0, 2, []string{"reading 2"}},
		{"no reason", 2, []study.Hold{hold(2, "noise", "")}, 0, 2, []string{"reading 2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			added, err := guard(t, s, c.upTo, c.holds...)
			if c.wordsOfNay != nil {
				refused(t, err, c.wordsOfNay...)
			} else {
				require.NoError(t, err)
			}
			assert.Equal(t, c.added, added)
			assert.Equal(t, c.marked, guarded(t, s).LastReading)
		})
	}
	assert.Len(t, judged(t, s), 1)
	verified(t, s)
}

// A hold is released by the guards that hold it, with a reason, and may come again for
// another; a reading that a person has judged is left alone, and what others have found
// meanwhile is not written over.
func TestReleases(t *testing.T) {
	s, path := enrolled(t)
	takeIn(t, s, unitA)
	before := allUnits(t, s)
	release := func(hold int64, reason string) store.Guarding {
		return store.Guarding{LastReading: 2, LastLine: 3, Guards: 1, Releases: []study.Release{{Hold: hold, Reason: reason}}}
	}
	_, err := guard(t, s, 2, hold(1, "noise", "it is noisy"), hold(1, "level", "it lies lower"))
	require.NoError(t, err)
	standing := func() []string {
		return ask(t, path, "SELECT standing, reason FROM v_standings WHERE reading = 1")
	}
	for _, c := range []struct {
		name     string
		guarding store.Guarding
		words    []string
		now      string
	}{
		{"one of two", release(1, "the others are as noisy"), nil, "held|it lies lower"},
		{"again", release(1, "the others are still as noisy"), nil, "held|it lies lower"},
		{"without a reason", release(2, ""), []string{"hold 2"}, "held|it lies lower"},
		{"a hold that is not there", release(3, "gone"), []string{"hold 3"}, "held|it lies lower"},
		{"the other", release(2, "the glass is another"), nil, "counted|the glass is another"},
		{"for another reason", store.Guarding{LastReading: 2, LastLine: 3, Guards: 1,
			Holds: []study.Hold{hold(1, "level", "it lies higher")}}, nil, "held|it lies higher"},
		{"released and held at once", store.Guarding{LastReading: 2, LastLine: 3, Guards: 1,
			Releases: []study.Release{{Hold: 3, Reason: "held for another reason now"}},
			Holds:    []study.Hold{hold(1, "level", "it lies far higher")}}, nil, "held|it lies far higher"},
	} {
		_, err := found(t, s, c.guarding)
		if c.words == nil {
			require.NoError(t, err, c.name)
		} else {
			refused(t, err, c.words...)
		}
		assert.Equal(t, []string{c.now}, standing(), c.name)
	}
	j := judged(t, s)[1]
	require.Len(t, j.Holds, 1)
	require.Len(t, j.Released, 3)
	assert.Equal(t, hold(1, "noise", "it is noisy"), j.Released[0].Row)
	assert.Equal(t, "the others are as noisy", j.Released[0].By.Row.Reason)
	assert.Equal(t, store.Guarding{After: guarded(t, s).After, LastReading: 2, LastLine: 3, Guards: 1}, guarded(t, s))
	require.NoError(t, s.Write(t.Context(), entry("guard"), func(tx *store.Tx) error {
		fresh, err := tx.Guard(store.Guarding{After: 1, LastReading: 2, LastLine: 9, Guards: 1,
			Holds: []study.Hold{hold(2, "noise", "it is noisy")}})
		assert.False(t, fresh, "others have looked since look 1")
		return err
	}))
	assert.NotContains(t, judged(t, s), int64(2))

	require.NoError(t, review(t, s, 1, study.Counted, "it is fine"))
	assert.Equal(t, before, allUnits(t, s), "the digest is as before")
	_, err = found(t, s, release(4, "nothing is odd"))
	require.NoError(t, err)
	assert.Equal(t, []string{"counted|it is fine"}, standing(), "a person has judged")
	assert.Len(t, judged(t, s)[1].Holds, 1)
	verified(t, s)
}

// The concerns of readings hold them from the start; a refusal takes the holds back.
func TestConcernsOfNewReadings(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := export("weekly.csv", unitA, 8, 45)
	readings[0].Concerns = []study.Concern{{Guard: "noise", Reason: "it is noisy"},
		{Guard: "range", Reason: "it is above 1"}}
	bad := append([]study.Reading(nil), readings...)
	bad[1].Coupon = "C777"
	before := dump(t, s)
	_, err := add(t, s, e, bad)
	refused(t, err, "C777")
	assert.Equal(t, before, dump(t, s))

	for _, want := range []int{2, 0} { // the second time they are known
		added, err := add(t, s, e, readings)
		require.NoError(t, err)
		assert.Equal(t, want, added)
		j := judged(t, s)
		require.Len(t, j, 1)
		assert.Equal(t, study.Held, j[1].Standing)
		require.Len(t, j[1].Holds, 2)
		assert.Equal(t, hold(1, "range", "it is above 1"), j[1].Holds[1].Row)
	}
	verified(t, s)
}

func TestReadingHeaders(t *testing.T) {
	s, _ := enrolled(t)
	units := []study.Unit{{Coupon: "C002", Pull: 1, Spot: "b"}, {Coupon: "C001", Pull: 1, Spot: "a"},
		{Coupon: "C002", Pull: 1, Spot: "a"}}
	var all []study.Reading
	for i, session := range []string{"m2", "", "m2"} { // lines 3, 4 and 5
		e, readings := export(units[i].Spot, units[i], 45, 8)
		for k := range readings {
			readings[k].Session = session
			readings[k].Traits = study.Traits{Noise: 1 / float64(i+3), FirstBandNM: 400,
				Bands: []float64{1.0 / 3, 1 / float64(k+7)}}
		}
		all = append(all, readings...)
		_, err := add(t, s, e, readings)
		require.NoError(t, err)
	}
	_, err := guard(t, s, 1, hold(6, "noise", "it is noisy"))
	require.NoError(t, err)
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		headerOf := func(number int64) store.ReadingHeader {
			r := all[number-1]
			m := store.ReadingHeader{Place: r.Place, Number: number, Line: 3 + (number-1)/2, Session: r.Session,
				Geometry: r.Geometry, Traits: r.Traits, Guardable: true, Column: r.Column}
			if number == 6 {
				m.Standing = study.Held
			}
			return m
		}
		type yield = func(store.ReadingHeader) error
		for _, c := range []struct {
			name string
			read func(yield) error
			want []int64
		}{
			{"a session", func(y yield) error { return v.HeadersIn(store.ReadingSet{Session: "m2"}, y) },
				[]int64{6, 5, 2, 1}},
			{"no session", func(y yield) error { return v.HeadersIn(store.ReadingSet{Coupon: "C001"}, y) },
				[]int64{4, 3}},
			{"no session, another coupon",
				func(y yield) error { return v.HeadersIn(store.ReadingSet{Coupon: "C002"}, y) }, nil},
			{"another session",
				func(y yield) error { return v.HeadersIn(store.ReadingSet{Session: "m9"}, y) }, nil},
			{"before pull 2", func(y yield) error {
				at, err := v.HeadersBefore("C002", 2, y)
				assert.Equal(t, 1, at)
				return err
			}, []int64{6, 5, 2, 1}},
			{"before pull 1", func(y yield) error {
				at, err := v.HeadersBefore("C002", 1, y)
				assert.Equal(t, -1, at)
				return err
			}, nil},
			{"reviewed", func(y yield) error { return v.ReviewedSince(0, y) }, nil},
			{"a coupon", func(y yield) error { return v.HeadersOf("C002", y) }, []int64{6, 5, 2, 1}},
			{"a coupon without readings", func(y yield) error { return v.HeadersOf("C003", y) }, nil},
		} {
			var got []int64
			require.NoError(t, c.read(func(m store.ReadingHeader) error {
				assert.Equal(t, headerOf(m.Number), m, c.name)
				got = append(got, m.Number)
				return nil
			}), c.name)
			assert.Equal(t, c.want, got, c.name)
		}
		own := errors.New("enough")
		require.ErrorIs(t, v.HeadersIn(store.ReadingSet{Session: "m2"}, func(store.ReadingHeader) error { return own }), own)
		m2, none := store.ReadingSet{Session: "m2"}, store.ReadingSet{Coupon: "C001"}
		for number, want := range map[int64][]store.ReadingSet{0: {none, m2}, 2: {none, m2}, 4: {m2}, 6: nil} {
			got, err := v.ReadingSetsSince(number)
			require.NoError(t, err)
			assert.Equal(t, want, got, "since %d", number)
		}
		return nil
	}))
}

func TestTwins(t *testing.T) {
	s, _ := enrolled(t)
	_, readings := export("a", unitA, 8, 30, 45)
	// takes adds the numbers of readings[of] for a spot of a coupon, from bytes of their own.
	takes := func(name, coupon, spot string, of int, change func(*study.Reading)) {
		r := readings[of]
		r.Coupon, r.Spot, r.Column = coupon, spot, 2
		r.NM, r.Values = append([]float64(nil), r.NM...), append([]float64(nil), r.Values...)
		change(&r)
		data := []byte(name)
		_, err := add(t, s, study.Export{Name: name, Data: data, SHA256: sha256.Sum256(data)}, []study.Reading{r})
		require.NoError(t, err)
	}
	as := func(*study.Reading) {}
	takes("one.csv", "C001", "a", 0, as)
	takes("two.csv", "C001", "b", 1, as)
	takes("three.csv", "C002", "c", 0, as)
	takes("four.csv", "C002", "d", 0, func(r *study.Reading) { r.Values[400] += 1e-6 })
	takes("five.csv", "C002", "e", 0, func(r *study.Reading) { r.NM[400]++ })
	takes("six.csv", "K001", "f", 0, as)
	takes("seven.csv", "C001", "b", 1, func(r *study.Reading) { r.AngleDeg = 60 })
	takes("eight.csv", "C001", "g", 0, as) // another spot of the same coupon
	takes("nine.csv", "C001", "a", 0, func(r *study.Reading) { r.Replicate = 2 })
	// Each group is named by the first place that has its numbers.
	twins := func(since int64) (found []string) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			return v.TwinsSince(since, func(group []store.Twin) error {
				text := ""
				for _, m := range group {
					text += fmt.Sprintf("%d %s %s %g %s; ", m.Number, m.Coupon, m.Spot, m.AngleDeg, m.Export)
				}
				found = append(found, text)
				return nil
			})
		}))
		return found
	}
	at8 := "1 C001 a 8 one.csv; 9 C001 a 8 nine.csv; 8 C001 g 8 eight.csv; 3 C002 c 8 three.csv; 6 K001 f 8 six.csv; "
	at30 := "2 C001 b 30 two.csv; 7 C001 b 60 seven.csv; "
	assert.Equal(t, []string{at8, at30}, twins(0))
	assert.Equal(t, []string{at8, at30}, twins(5))
	assert.Equal(t, []string{at8}, twins(8))
	assert.Empty(t, twins(9))
}
