package store_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func TestKnownExports(t *testing.T) {
	s, path := enrolled(t)
	e, readings := export("weekly.csv", unitA, 8, 45)
	otherwise := study.Taking{Digest: [32]byte{9}, Stated: "unit fraction", Profile: "bench", Version: 2}
	taken := func(sum, digest [32]byte) bool {
		all, err := s.KnownExports(t.Context())
		require.NoError(t, err)
		return all.Has(sum, digest)
	}
	takeAs := func(how study.Taking, readings []study.Reading) (added int, err error) {
		err = s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
			added, err = tx.AddExport(e, how, readings)
			return err
		})
		return added, err
	}
	assert.False(t, taken(e.SHA256, how.Digest))
	_, err := takeAs(how, readings) // line 3
	require.NoError(t, err)
	assert.True(t, taken(e.SHA256, how.Digest))
	assert.False(t, taken(e.SHA256, otherwise.Digest))
	assert.False(t, taken([32]byte{1}, how.Digest))

	t.Run("a profile that is not kept", func(t *testing.T) {
		before := dump(t, s)
		_, err := takeAs(otherwise, readings)
		refused(t, err, "weekly.csv", `no profile "bench"`)
		assert.Equal(t, before, dump(t, s))
	})
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error { // line 4
		for _, text := range []string{"unit percent", "unit fraction"} {
			if _, _, err := tx.AddProfile("bench", text); err != nil {
				return err
			}
		}
		return nil
	}))
	t.Run("known readings, taken in otherwise", func(t *testing.T) { // line 5
		for range 2 {
			added, err := takeAs(otherwise, readings)
			require.NoError(t, err)
			assert.Zero(t, added)
			assert.True(t, taken(e.SHA256, otherwise.Digest))
		}
		assert.Equal(t, []string{"1|3", "2|5"}, ask(t, path, "SELECT id, log FROM intake"))
	})
	t.Run("without readings", func(t *testing.T) {
		_, err := takeAs(study.Taking{Digest: [32]byte{7}}, nil)
		require.NoError(t, err)
		assert.False(t, taken(e.SHA256, [32]byte{7}))
	})
	t.Run("how each reading was taken in", func(t *testing.T) {
		e, readings = export("daily.csv", study.Unit{Coupon: "C002", Pull: 1, Spot: "a"}, 8)
		_, err := takeAs(otherwise, readings) // line 6
		require.NoError(t, err)
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			for reading, want := range map[int64]*store.Kept[study.Taking]{
				1: {Row: how, Number: 1, Line: 3}, 2: {Row: how, Number: 1, Line: 3}, 3: {Row: otherwise, Number: 3, Line: 6},
				4: nil,
			} {
				got, err := v.TakingOf(reading)
				require.NoError(t, err)
				assert.Equal(t, want, got, "reading %d", reading)
			}
			return nil
		}))
	})
	verified(t, s)
}

// Many ask while one writes.
func TestTakenByManyAtOnce(t *testing.T) {
	s, _ := enrolled(t)
	exports, readings := spots(40)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for range exports {
				if _, err := s.KnownExports(t.Context()); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for i := range exports {
		_, err := add(t, s, exports[i], readings[i])
		require.NoError(t, err)
		taken, err := s.KnownExports(t.Context())
		require.NoError(t, err)
		assert.True(t, taken.Has(exports[i].SHA256, how.Digest), "what was committed is seen")
	}
	all.Wait()
}

func TestProfiles(t *testing.T) {
	s, path := enrolled(t)
	find := func(name string, version int) (p *study.Profile, err error) {
		err = s.View(t.Context(), func(v *store.View) error {
			p, err = v.Profile(name, version)
			return err
		})
		return p, err
	}
	_, err := find("bench", 0)
	refused(t, err, path, `no profile "bench"`, "keeps none")

	for _, c := range []struct {
		name, profile, text string
		version             int
		added               bool
	}{
		{"the first", "bench", "unit percent", 1, true},
		{"the same", "bench", "unit percent", 1, false},
		{"another text", "bench", "unit fraction", 2, true},
		{"the text of an older version", "bench", "unit percent", 3, true},
		{"another profile", "Alcove", "unit percent", 1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				version, added, err := tx.AddProfile(c.profile, c.text)
				assert.Equal(t, c.version, version)
				assert.Equal(t, c.added, added)
				return err
			}))
		})
	}
	all, err := s.Profiles(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []study.Profile{
		{Name: "Alcove", Version: 1, Text: "unit percent"},
		{Name: "bench", Version: 1, Text: "unit percent"}, {Name: "bench", Version: 2, Text: "unit fraction"},
		{Name: "bench", Version: 3, Text: "unit percent"},
	}, all)
	for version, want := range map[int]study.Profile{0: all[3], 2: all[2], 3: all[3]} {
		got, err := find("bench", version)
		require.NoError(t, err)
		assert.Equal(t, want, *got)
	}
	_, err = find("bench", 4)
	assert.Contains(t, refused(t, err, path, `"bench" has no version 4`).Try, "1 to 3")
	_, err = find("Bench", 0)
	assert.Contains(t, refused(t, err, path, `no profile "Bench"`).Try, "Alcove, bench")
	err = s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, _, err := tx.AddProfile("", "unit percent")
		return err
	})
	refused(t, err, "no name")
	assert.Equal(t, []string{"Alcove|1|unit percent|ada", "bench|1|unit percent|ada", "bench|2|unit fraction|ada",
		"bench|3|unit percent|ada"},
		ask(t, path, "SELECT profile, version, text, who FROM v_profiles"))
	verified(t, s)
}
