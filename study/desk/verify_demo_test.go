package desk_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/desk/demo"
	"wane/study/store"
)

// alteredFits says how many fits there are, and which one was altered.
type alteredFits struct {
	n       int
	altered string
}

// alterFit alters one fit of a study, with all its checksums and hashes.
func alterFit(t *testing.T, path string) alteredFits {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, path)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	var some []*study.Fit
	require.NoError(t, s.Fits(ctx, func(f *study.Fit) error { some = append(some, f); return nil }))
	wrong := *some[100]
	right := wrong.Digest
	wrong.Digest[0]++
	require.NoError(t, s.Write(ctx, &study.Entry{At: "2026-01-02T03:04:05Z", Who: "tester", Verb: "fit",
		Summary: "a better number"}, func(tx *store.Tx) error {
		if err := tx.PutFit(&wrong); err != nil {
			return err
		}
		wrong.Digest = right
		wrong.Result.SolarT.Value += 1e-12
		return tx.PutFit(&wrong)
	}))
	return alteredFits{len(some), fmt.Sprintf("coupon %s, pull %d, spot %s", wrong.Coupon, wrong.Pull, wrong.Spot)}
}

// One altered fit among many is found by a deep verification, and by the samples that contain it.
func TestDeepVerifyComputesEveryFit(t *testing.T) {
	ctx := context.Background()
	who := desk.Person{Name: "tester"}
	made, d, err := demo.Run(ctx, filepath.Join(t.TempDir(), "demo"), 2, who)
	require.NoError(t, err)
	require.NoError(t, d.Close())
	fits := alterFit(t, made.Study)
	d, err = desk.OpenToRead(ctx, made.Study, who)
	require.NoError(t, err)
	defer func() { require.NoError(t, d.Close()) }()
	verified := func(opt desk.VerifyOptions) *desk.Verified {
		v, err := d.Verify(ctx, opt)
		require.NoError(t, err)
		return v
	}
	v := verified(desk.VerifyOptions{Deep: true, Workers: 2})
	require.Len(t, v.Differing, 1)
	assert.Contains(t, v.Differing[0], fits.altered+": solar_T is stored as")
	assert.Equal(t, fits.n-1, v.Reproduced)
	assert.Equal(t, made.TakenIn.Curves, v.Readings)

	found, missed := 0, 0
	for seed := range uint64(6) {
		v := verified(desk.VerifyOptions{Seed: seed})
		again := verified(desk.VerifyOptions{Seed: seed, Workers: 3})
		assert.Equal(t, v, again, "the same seed draws the same fits")
		if v.Sound() {
			missed++
		} else {
			found++
		}
	}
	assert.Positive(t, missed, "a sample is no proof")
	t.Logf("of 6 samples %d hold the altered fit", found)
}
