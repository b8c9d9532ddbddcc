package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/text"
	"wane/study/store"
)

func verifiedWith(t *testing.T, d *Desk, opt VerifyOptions) *Verified {
	t.Helper()
	v, err := d.Verify(context.Background(), opt)
	require.NoError(t, err)
	return v
}

// contradiction asserts that there is one contradiction, which holds the words.
func contradiction(t *testing.T, v *Verified, words ...string) {
	t.Helper()
	assert.False(t, v.Sound())
	require.Len(t, v.Contradictions, 1, "%+v", v)
	for _, w := range words {
		assert.Contains(t, v.Contradictions[0].Fault, w)
	}
	assert.NotEmpty(t, v.Contradictions[0].Try)
}

// Originals give the same readings again, however they were taken in: without statements, with statements,
// over a reference, as a table of measurements.
func TestDeepVerifyReadsOriginalsAgain(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.certified(d)
	direct := read(t, f.export("direct.csv", 120, 0, 1))
	f.write("relative.csv", scaled(direct, 1/0.9))
	in, err := d.Intake(ctx, f.write("map.csv", sessionMapHeader+sessionRows("relative.csv", "E1", 0, "s0")), nil,
		IntakeOptions{Workers: 1, Stated: text.Stated{RelativeTo: "M1", Range: "420-980", Columns: "2,3"}})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	f.takeIn(d, "direct-map.csv", mapHeader+rows("direct.csv", "C1", 0))
	_, err = d.Measure(ctx,
		[]string{f.write("haze.csv", "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"+
			"E1,0,1,haze,0.4,,percent,haze-1,2026-01-02,ada,,\n"+
			"C1,0,1,haze,0.5,0.1,percent,haze-1,2026-01-02,ada,direct.csv,odd\n")})
	require.NoError(t, err)
	f.fit(d)
	v := verifiedWith(t, d, VerifyOptions{Deep: true, Workers: 2})
	assert.True(t, v.Sound(), "%+v", v)
	assert.Equal(t, []int{4, 2, 2}, []int{v.Readings, v.Measurements, v.Reproduced})
	assert.Empty(t, v.Notes)
}

// In a study that is sound by itself, readings, measurements or fits that differ from its originals are
// found.
func TestDeepVerifyFindsWhatOriginalsDoNotHold(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	path, more := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	d := open(t, path)
	defer func() { require.NoError(t, d.Close()) }()
	other, err := New(ctx, filepath.Join(f.path, "other.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	defer func() { require.NoError(t, other.Close()) }()
	_, err = other.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	f.takeIn(other, "more-map.csv", more)
	var readings []study.Reading
	require.NoError(t, other.Spectra(ctx, nil, func(s *Spectrum) error {
		r := &s.Row
		readings = append(readings, *r)
		return nil
	}))
	require.Len(t, readings, 2)
	readings[1].Values = append([]float64(nil), readings[1].Values...)
	readings[1].Values[7] += 1e-6
	for i := range readings {
		readings[i].Traits = study.Traits{}
	}
	data := readFile(t, filepath.Join(f.path, "more.csv"))
	require.NoError(t, d.store.Write(ctx, d.entry("intake", "other numbers"), func(tx *store.Tx) error {
		_, err := tx.AddExport(study.Export{Name: "more.csv", Data: data, SHA256: sha256.Sum256(data)},
			study.Taking{Digest: [32]byte{1}, Stated: "unit percent"}, readings)
		return err
	}))
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.True(t, verifiedWith(t, d, VerifyOptions{}).Sound(), "by itself")
	contradiction(t, verifiedWith(t, d, VerifyOptions{Deep: true}),
		"of coupon E1, pull 1, spot 2 at 60 degrees: column 3 of its original more.csv has other numbers")
}

// In a study that is sound by itself, a reading that stands elsewhere than its map says is found, and one that was
// moved without a reading before it.
func TestDeepVerifyFindsWhatMapsSayOtherwise(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	path, more := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	d := open(t, path)
	defer func() { require.NoError(t, d.Close()) }()
	sound := verifiedWith(t, d, VerifyOptions{Deep: true})
	assert.True(t, sound.Sound(), "%+v", sound)
	assert.Equal(t, []int{12, 0}, []int{sound.Placed, sound.Moved})
	moved := MoveSelection{Selection: Everything()}
	moved.Coupons = []string{"C1"}
	_, err := d.Move(ctx, moved, MoveTo{Spot: "7", Pull: AllPulls, AngleDeg: study.Null()}, "another spot", false)
	require.NoError(t, err)
	sound = verifiedWith(t, d, VerifyOptions{Deep: true})
	assert.True(t, sound.Sound(), "%+v", sound)
	assert.Equal(t, []int{12, 4}, []int{sound.Placed, sound.Moved})

	// More is taken in by the map that is kept, but stored at another spot than that map says.
	data := readFile(t, filepath.Join(f.path, "more.csv"))
	how := study.Taking{Digest: [32]byte{1}, Stated: "unit percent"}
	forge := func(verb string, spot string) {
		x, err := readStated(&study.Export{Name: "more.csv", Data: data}, how.Stated)
		require.NoError(t, err)
		s := x.Spectra[len(spot)-1]
		require.NoError(t, d.store.Write(ctx, d.entry(verb, "made up"), func(tx *store.Tx) error {
			_, err := tx.AddExport(study.Export{Name: "more.csv", Data: data, SHA256: sha256.Sum256(data)}, how,
				[]study.Reading{{Place: study.Place{Coupon: "E1", Pull: 1, Spot: spot, AngleDeg: s.AngleDeg, Polarisation: "u",
					Quantity: s.Quantity, Replicate: 1}, Column: s.Column, Heading: s.Heading, NM: s.NM, Values: s.Values}})
			if err != nil {
				return err
			}
			return tx.Give(givenMap, study.Export{Name: "map.csv", SHA256: sha256.Sum256([]byte(more)), Data: []byte(more)})
		}))
	}
	forge("intake", "9")
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.True(t, verifiedWith(t, d, VerifyOptions{}).Sound(), "by itself")
	contradiction(t, verifiedWith(t, d, VerifyOptions{Deep: true}), "column 2 of more.csv, stands at coupon E1, pull 1, "+
		"spot 9 at 8 degrees, polarisation u, replicate 1, but line 2 of map.csv puts it at coupon E1, pull 1, spot 2 at 8 degrees")
	how.Digest[0] = 2
	forge("move", "10")
	v := verifiedWith(t, d, VerifyOptions{Deep: true})
	require.Len(t, v.Contradictions, 2)
	assert.Contains(t, v.Contradictions[1].Fault,
		"of coupon E1, pull 1, spot 10, was moved, but no reading of more.csv is kept that it stands instead of")
}

// Samples are drawn from all fits with equal probability.
func TestSampleIsDrawnFromAll(t *testing.T) {
	jobs := make([]fitJob, 100)
	for i := range jobs {
		jobs[i].units = make([]jobUnit, 1)
		jobs[i].units[0].Pull = i
	}
	drawn := make([]int, len(jobs))
	const draws = 2000
	for seed := range uint64(draws) {
		sample := sampleOf(jobs, seed)
		require.Len(t, sample, leastSample)
		last := -1
		for _, j := range sample {
			require.Greater(t, j.units[0].Pull, last, "in order, each once")
			last = j.units[0].Pull
			drawn[last]++
		}
	}
	// Binomial of 2000 draws at 0.2: mean 400, standard deviation 17.9; 5 of them for 100 jobs.
	for i, n := range drawn {
		assert.InDelta(t, draws*leastSample/len(jobs), n, 90, "job %d", i)
	}
}

// The log contains the hashes that were noted and begins with the log of a backup. The log of another
// history does neither.
func TestLogIsHeldAgainstWhatWasNoted(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	path, more := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	d := open(t, path)
	_, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	head := verifiedWith(t, d, VerifyOptions{}).Store.Head
	noted := hex.EncodeToString(head[:])
	backup := filepath.Join(f.path, "backup.wane")
	_, err = d.Backup(ctx, backup)
	require.NoError(t, err)
	var lines []study.Entry
	require.NoError(t, d.Log(ctx, func(e study.Entry) error { lines = append(lines, e); return nil }))

	v := verifiedWith(t, d, VerifyOptions{Contains: noted[:8], Against: backup})
	assert.True(t, v.Sound(), "%+v", v)
	require.Len(t, v.Notes, 2)
	assert.Contains(t, v.Notes[0], "the history contains "+noted[:8]+": line 5, of 2026-01-02T03:04:05Z")
	assert.Contains(t, v.Notes[1], "all 5 lines of the history of "+backup+" are in this one, which has 0 more")
	contradiction(t, verifiedWith(t, d, VerifyOptions{Contains: strings.Repeat("0", 64)}),
		"no line of the history has the hash")

	f.takeIn(d, "more-map.csv", more)
	v = verifiedWith(t, d, VerifyOptions{Contains: strings.ToUpper(noted), Against: backup})
	assert.True(t, v.Sound(), "%+v", v)
	assert.Contains(t, v.Notes[1], "which has 2 more")
	later := verifiedWith(t, d, VerifyOptions{}).Store.Head
	require.NoError(t, d.Close())

	// The backup replaces the study: what was done since is missing.
	ahead := filepath.Join(f.path, "ahead.wane")
	require.NoError(t, os.Rename(path, ahead))
	writeFile(t, path, readFile(t, backup))
	d = open(t, path)
	assert.True(t, verifiedWith(t, d, VerifyOptions{}).Sound(), "by itself")
	contradiction(t, verifiedWith(t, d, VerifyOptions{Contains: hex.EncodeToString(later[:])}), "no line of the history")
	contradiction(t, verifiedWith(t, d, VerifyOptions{Against: ahead}),
		"the history ends with line 5, and that of "+ahead+" has 7 lines, the last one guard by tester")
	// And another history goes on from there.
	f.export("more.csv", 101, 0, 9)
	f.takeIn(d, "more-map.csv", more)
	contradiction(t, verifiedWith(t, d, VerifyOptions{Against: ahead}),
		"the history is different from that of "+ahead+" from line 6 on: intake by tester")
	require.NoError(t, d.Close())
}

// A witness has a study from its first line on, and verify says how far it compared.
func TestWitnessAtTheDesk(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	who := tester()
	who.Witness = filepath.Join(f.path, "witness.txt")
	path := filepath.Join(f.path, "seen.wane")
	settings := study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}
	d, err := New(ctx, path, settings, who)
	require.NoError(t, err)
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	v := verifiedWith(t, d, VerifyOptions{})
	assert.True(t, v.Sound(), "%+v", v)
	assert.Equal(t,
		[]string{"the witness names this study in 2 lines, up to line 2 of the history; lines after that: 0"}, v.Notes)
	require.NoError(t, d.Close())

	early := who
	early.Now = func() time.Time { return time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC) }
	early.Witness = ""
	d, err = Open(ctx, path, early)
	require.NoError(t, err)
	f.export("a.csv", 120, 0, 1)
	f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0))
	require.NoError(t, d.Close())
	d, err = Open(ctx, path, who)
	require.NoError(t, err)
	v = verifiedWith(t, d, VerifyOptions{})
	assert.True(t, v.Sound(), "%+v", v)
	assert.Equal(t,
		[]string{"the witness names this study in 2 lines, up to line 2 of the history; lines after that: 2"}, v.Notes)
	text := string(readFile(t, who.Witness))
	writeFile(t, who.Witness, []byte(strings.Replace(text, "\t2\t", "\t3\t", 1)))
	contradiction(t, verifiedWith(t, d, VerifyOptions{}), "line 3 of the history had the hash")
	require.NoError(t, d.Close())

	nowhere := who
	nowhere.Witness = filepath.Join(f.path, "none", "witness.txt")
	_, err = New(ctx, filepath.Join(f.path, "unseen.wane"), settings, nowhere)
	failed(t, err, "the witness (WANE_WITNESS) cannot be written, so nothing was done")
	assert.NoFileExists(t, filepath.Join(f.path, "unseen.wane"))
	d, err = Open(ctx, path, nowhere)
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	failed(t, err, "nothing was done")
	_, err = d.Verify(ctx, VerifyOptions{})
	failed(t, err, "there is no such witness")
	require.NoError(t, d.Close())
}

// If WANE_WITNESS names another study by mistake, neither study changes and no file is made.
func TestAnotherStudyIsNoWitness(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	settings := study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}
	var paths [2]string
	var before [2][]byte
	for i, name := range []string{"one.wane", "two.wane"} {
		paths[i] = filepath.Join(f.path, name)
		d, err := New(ctx, paths[i], settings, tester())
		require.NoError(t, err)
		require.NoError(t, d.Close())
		before[i] = readFile(t, paths[i])
	}
	who := tester()
	who.Witness = paths[1]
	_, err := Open(ctx, paths[0], who)
	failed(t, err, paths[1], "this file is not a witness", "nothing was done")
	_, err = New(ctx, filepath.Join(f.path, "three.wane"), settings, who)
	failed(t, err, paths[1], "this file is not a witness", "nothing was done")
	assert.NoFileExists(t, filepath.Join(f.path, "three.wane"))
	for i := range paths {
		assert.Equal(t, before[i], readFile(t, paths[i]))
	}
}
