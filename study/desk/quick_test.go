package desk

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// quickOn reads an export with these options, on soda-lime glass with a matched far face.
func quickOn(t *testing.T, opt QuickOptions, files ...string) ([]*QuickSpot, error) {
	t.Helper()
	opt.Pane = Pane{Glass: "soda-lime", Back: optics.Matched, Mixing: optics.Bruggeman}
	q, err := NewQuick(files, opt)
	require.NoError(t, err)
	return q.Read(&ExportReader{}, nil)
}

// A heading and a person must state the same; if only one of them states something, it is used.
func TestQuickSettlesAnglesAndPolarisations(t *testing.T) {
	f := newFolder(t)
	headed := f.write("headed.csv", "nm,8 deg s-pol %R\n400,4.1\n401,4.2\n402,4.1\n")
	plain := f.write("plain.csv", "nm,%R\n400,4.1\n401,4.2\n402,4.1\n")
	for _, c := range []struct {
		name, file   string
		opt          QuickOptions
		angle        float64
		polarisation string
		fault        string
	}{
		{"the heading alone", headed, QuickOptions{}, 8, "s", ""},
		{"the person alone", plain, QuickOptions{AnglesDeg: []float64{60}, Polarisation: "p"}, 60, "p", ""},
		{"no polarisation is stated", plain, QuickOptions{AnglesDeg: []float64{60}}, 60, "u", ""},
		{"both the same", headed, QuickOptions{AnglesDeg: []float64{8}, Polarisation: "s"}, 8, "s", ""},
		{"another angle", headed, QuickOptions{AnglesDeg: []float64{60}}, 0, "",
			"the export states 8 degrees for column 2 (\"8 deg s-pol %R\"), but --angle states 60"},
		{"another polarisation", headed, QuickOptions{Polarisation: "p"}, 0, "",
			"in polarisation s, but --polarisation states p"},
		{"no angle", plain, QuickOptions{}, 0, "", "the angle of incidence of column 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			spots, err := quickOn(t, c.opt, c.file)
			if c.fault != "" {
				var r *study.Refusal
				require.ErrorAs(t, err, &r)
				assert.Contains(t, r.Fault, c.fault)
				assert.NotEmpty(t, r.Try)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.angle, spots[0].Spectra[0].AngleDeg)
			assert.Equal(t, c.polarisation, spots[0].Spectra[0].Polarisation)
		})
	}
}

// A wrong call is found before a file is read, whatever the files contain.
func TestQuickRefusesWrongUsage(t *testing.T) {
	matched := Pane{Glass: "soda-lime", Back: optics.Matched, Mixing: optics.Bruggeman}
	bare := Pane{Glass: "soda-lime", Back: optics.Bare, Mixing: optics.Bruggeman}
	for fault, c := range map[string]struct {
		files []string
		opt   QuickOptions
	}{
		"no export is given":                            {nil, QuickOptions{Pane: matched}},
		"it is not stated whether they are of one spot": {[]string{"a", "b"}, QuickOptions{Pane: matched}},
		"--one-spot makes one row from all files": {[]string{"a", "b"},
			QuickOptions{Pane: matched, OneSpot: true, Each: true}},
		"--back bare needs the thickness of the glass": {[]string{"a"}, QuickOptions{Pane: bare}},
		"--level 95 is not between 0 and 1": {[]string{"a"},
			QuickOptions{Pane: matched, Intervals: "profile", Level: 95}},
		"--noise 2 is not the noise of a reflectance": {[]string{"a"}, QuickOptions{Pane: matched, NoiseSD: 2}},
		"--intervals are of the film as it was read, and --pore-water dries it": {[]string{"a"},
			QuickOptions{Pane: matched, PoreWater: study.Stated{Value: 0.1, Is: true}, Intervals: "profile", Level: 0.95}},
		"--pin porosity fixes what --pore-water changes": {[]string{"a"},
			QuickOptions{Pane: matched, PoreWater: study.Stated{Value: 0.1, Is: true}, Pins: film.Pins{film.Porosity: 0.3}}},
		"--u-pore-water is of --pore-water, which is not given": {[]string{"a"},
			QuickOptions{Pane: matched, UPoreWater: study.Stated{Value: 0.1, Is: true}}},
		"--back laminated needs its return spectrum": {[]string{"a"}, QuickOptions{Pane: Pane{Glass: "soda-lime",
			Back: optics.Laminated}}},
		"--return-spectrum is for a laminated far face": {[]string{"a"}, QuickOptions{Pane: Pane{Glass: "soda-lime",
			Return: "r.csv"}}},
		"--geometry total_excluded: a smooth film": {[]string{"a"}, QuickOptions{Pane: matched, Geometry: "total_excluded"}},
		"--geometry mixed needs a half-angle":      {[]string{"a"}, QuickOptions{Pane: matched, Geometry: "mixed"}},
		"there is no glass \"crystal\"":            {[]string{"a"}, QuickOptions{Pane: Pane{Glass: "crystal"}}},
	} {
		_, err := NewQuick(c.files, c.opt)
		var usage *UsageError
		require.ErrorAs(t, err, &usage, fault)
		assert.Contains(t, usage.Fault, fault)
		assert.NotEmpty(t, usage.Try)
	}
}

// The most influential points are first, and they are those of the made-up outlier.
func TestQuickFindsTheMostInfluentialPoints(t *testing.T) {
	f := newFolder(t)
	path := f.export("a.csv", 120, 0, 1)
	q, err := NewQuick([]string{path}, QuickOptions{
		Pane: Pane{Glass: "soda-lime", Back: optics.Matched, Mixing: optics.Bruggeman}, Structures: true,
	})
	require.NoError(t, err)
	spots, err := q.Read(&ExportReader{}, nil)
	require.NoError(t, err)
	spots[0].Spectra[0].Values[20] += 0.002 // 800 nm; below what counts as a spike
	found, err := q.Fit(context.Background(), spots[0])
	require.NoError(t, err)
	points, err := found.Influence(context.Background())
	require.NoError(t, err)
	assert.Len(t, points, 2*31)
	most := MostInfluential(points, 3)
	require.Len(t, most, 3)
	assert.Equal(t, []float64{1, 8, 800}, []float64{float64(most[0].Curve), most[0].AngleDeg, most[0].NM})
	assert.GreaterOrEqual(t, most[0].CookDistance, most[1].CookDistance)
	assert.Len(t, MostInfluential(points, 1000), len(points))

	structures, err := found.Structures(context.Background())
	require.NoError(t, err)
	assert.False(t, structures.Called)
	require.Len(t, structures.Rungs, 2, "bare glass and the uniform film, since the curves call for no structure")
	lowest := 0
	for _, s := range structures.Rungs {
		assert.GreaterOrEqual(t, s.AboveLowestAICc, 0.0)
		if s.AboveLowestAICc == 0 {
			lowest++
		}
	}
	assert.Equal(t, 1, lowest, "the differences are from the lowest")
}

// Answers are written only into a new file, and can be read again.
func TestQuickSavesAnswers(t *testing.T) {
	f := newFolder(t)
	path := f.write("plain.csv", "nm,R\n400,4.1\n401,4.2\n402,4.1\n")
	r := &ExportReader{Ask: nil}
	require.NoError(t, r.Stated.Set("unit", "percent"))
	_, err := r.Read(path)
	require.NoError(t, err)
	saved := filepath.Join(f.path, "mine.yaml")
	require.NoError(t, r.SaveAnswers(saved))
	assert.Error(t, r.SaveAnswers(saved), "there already")
	profile, err := ReadProfile(saved)
	require.NoError(t, err)
	again := &ExportReader{Profile: profile}
	export, err := again.Read(path)
	require.NoError(t, err)
	assert.Equal(t, 0.041, export.Spectra[0].Values[0])
	_, err = os.Stat(saved)
	assert.NoError(t, err)
}

// An uncertainty of 0 says that the share is exact, as in a study; without one it is the share over √3.
func TestQuickWater(t *testing.T) {
	stated := func(x float64) study.Stated { return study.Stated{Value: x, Is: true} }
	assert.Equal(t, film.Water{Share: 0.3}, (&QuickOptions{PoreWater: stated(0.3), UPoreWater: stated(0)}).water())
	assert.InDelta(t, 0.1732, (&QuickOptions{PoreWater: stated(0.3)}).water().UShare, 1e-4)
	assert.Equal(t, film.Water{}, (&QuickOptions{}).water())
}
