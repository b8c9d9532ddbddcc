package ageing_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/ageing"
)

// groupAt is a made-up group at a pull.
func groupAt(group, exposure, condition string, pull int, dose, change study.Num) ageing.Group {
	return ageing.Group{
		Group: group, Exposure: exposure, Condition: condition, Pull: pull, Dose: dose, DoseUnit: "days", Change: change,
	}
}

// outline is the name of each curve, and the pulls of its points.
func outline(curves []ageing.Curve) map[string][]int {
	all := map[string][]int{}
	for _, c := range curves {
		for _, p := range c.Points {
			all[c.Name] = append(all[c.Name], p.Pull)
		}
	}
	return all
}

func TestCurvesOfOneExposure(t *testing.T) {
	groups := []ageing.Group{
		groupAt("K1", "roof", "", 2, 180, -0.4), groupAt("K2", "roof", "", 1, 90, -0.1), groupAt("K1", "roof", "", 1, 90, -0.2),
		groupAt("K1", "roof", "", 3, 360, study.Null()), groupAt("K1", "roof", "", 4, study.Null(), -0.5),
	}
	curves := ageing.Curves(groups)
	assert.Equal(t, map[string][]int{"K1": {1, 2}, "K2": {1}}, outline(curves))
	assert.Equal(t, []string{"K1", "K2", "days"}, []string{curves[0].Name, curves[1].Name, curves[1].DoseUnit})
	assert.Equal(t, 2, groups[0].Pull, "the groups stay in their order")
}

// Where groups come from several exposures or conditions, the names of the curves say so, and each has a
// curve of its own.
func TestCurvesOfSeveralExposuresAndConditions(t *testing.T) {
	curves := ageing.Curves([]ageing.Group{
		groupAt("K1", "roof", "", 1, 90, -0.2), groupAt("K1", "chamber", "rinsed", 1, 90, -0.1),
		groupAt("K1", "roof", "rinsed", 1, 90, -0.1), groupAt("K1", "roof", "", 2, 180, -0.3),
	})
	assert.Equal(t, map[string][]int{"K1, roof": {1, 2}, "K1, roof, rinsed": {1}, "K1, chamber, rinsed": {1}},
		outline(curves))
	assert.Equal(t, []string{"K1, chamber, rinsed", "K1, roof", "K1, roof, rinsed"},
		[]string{curves[0].Name, curves[1].Name, curves[2].Name})
	assert.Empty(t, ageing.Curves(nil))
}

// The exposure of a group without a change is one of the exposures all the same.
func TestCurveNamesDoNotDependOnWhatIsDrawn(t *testing.T) {
	curves := ageing.Curves([]ageing.Group{
		groupAt("K1", "roof", "", 1, 90, -0.2), groupAt("K1", "chamber", "", 1, 90, study.Null()),
	})
	assert.Equal(t, map[string][]int{"K1, roof": {1}}, outline(curves))
}

func TestCountDistrusted(t *testing.T) {
	assert.Equal(t, ageing.Distrusted{Spots: 8, Suspect: 3, SuspectBase: 5}, ageing.CountDistrusted([]ageing.Group{
		{Spots: 4, Flags: map[string]int{study.FlagSessionNotTrusted: 3, study.FlagBaselineNotTrusted: 2}},
		{Spots: 4, Flags: map[string]int{study.FlagBaselineNotTrusted: 3}},
	}))
}

func TestCountStates(t *testing.T) {
	g := ageing.Group{States: map[study.State]int{"": 1, study.Unclear: 2, study.Patchy: 0, study.Full: 3}}
	assert.Equal(t, []ageing.StateCount{{study.Full, 3}, {study.Unclear, 2}, {"", 1}}, g.CountStates())
}
