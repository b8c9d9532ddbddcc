package placing_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/intake/placing"
)

// Several samples show which parts of names and headers vary. All made up.
func TestDraftFromSeveralSamples(t *testing.T) {
	const rows = "nm,%R\n400,2.1\n500,1.9\n600,1.8\n"
	for _, c := range []struct {
		name  string
		paths []string
		files string
	}{
		{"codes with dashes", []string{"x/AU-02-pull1-1.csv", "x/KO-01-pull2-2.csv"}, `"{coupon}-pull{pull:number}-{part2:number}.csv"`},
		{"one coupon", []string{"AU-02-pull1-1.csv", "AU-02-pull2-1.csv"}, `"{coupon}-pull{pull:number}-1.csv"`},
		{"no labels", []string{"A01_1.csv", "A02_2.csv", "A03_3.csv"}, `"{coupon}_{part2:number}.csv"`},
		{"a spot", []string{"scan A1 spot 3.csv", "scan B2 spot 4.csv"}, `"{coupon} spot {part2:number}.csv"`},
		{"built otherwise: as the first", []string{"A01-pull0.csv", "A02-pull0-1-b.csv"}, `"{coupon}-pull{pull}.csv"`},
		{"letters and digits", []string{"A01-pull0-x1.csv", "A02-pull0-y2.csv"}, `"{coupon}-pull{pull:number}-{part2}.csv"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var others []desk.DraftSample
			for _, p := range c.paths[1:] {
				others = append(others, desk.DraftSample{Path: p, Data: []byte(rows)})
			}
			draft, err := desk.DraftProfile("b", c.paths[0], []byte(rows), others...)
			require.NoError(t, err)
			assert.Contains(t, draft, "\n# files: "+c.files+"\n")
			files := draft[strings.Index(draft, "\n# files: ")+3:]
			p, err := placing.ReadProfile("b.yaml", []byte("profile: b\n"+files[:strings.Index(files, "\n")+1]))
			require.NoError(t, err)
			assert.True(t, p.Matches(c.paths[0]))
		})
	}
}

func TestDraftProposesLinesOfTheHeader(t *testing.T) {
	one := "Sample: AU-02\nInstrument: bench\nAngle of incidence = 8\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n"
	two := "Sample: KO-01\nInstrument: bench\nAngle of incidence = 45\nnm,R %\n400,2.2\n500,1.8\n600,1.7\n"
	draft, err := desk.DraftProfile("b", "scan1.csv", []byte(one), desk.DraftSample{Path: "scan2.csv", Data: []byte(two)})
	require.NoError(t, err)
	assert.Contains(t, draft, "\n# header:\n#   - \"Sample: {sample}\"   # AU-02, KO-01\n"+
		"#   - \"Angle of incidence = {angle}\"   # 8, 45\n\n")
	assert.NotContains(t, draft, "{instrument}")
	assert.Contains(t, draft, "\n# These samples have other columns than scan1.csv: scan2.csv.\n")
	_, err = placing.ReadProfile("b.yaml", []byte(filled(draft)))
	require.NoError(t, err)
}

// What the header says of the angle differs between the samples, so the draft does not take that of the first one for all.
func TestDraftOfSamplesAtOtherAngles(t *testing.T) {
	const rows = "nm,%R\n400,2.1\n500,1.9\n600,1.8\n"
	draft, err := desk.DraftProfile("b", "scan1.csv", []byte("Sample: AU-02\nAngle: 8 deg\n"+rows),
		desk.DraftSample{Path: "scan2.csv", Data: []byte("Sample: KO-01\nAngle: 45 deg\n" + rows)})
	require.NoError(t, err)
	assert.Contains(t, draft, "\n#   - \"Angle: {angle} deg\"   # 8, 45\n")
	assert.Contains(t, draft, "\n    angle: \"\"   # fill in: the samples have 8, 45; \"{angle}\" with a line of the header")
	assert.NotContains(t, draft, "angle: 8")
}
