package desk

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/evaluate"
)

// halves are the map rows of an export of [folder.sitting] with those of its angles above
// 30 degrees, the third and fourth, moved to another session.
func halves(rows, from, to string) string {
	lines := strings.SplitAfter(rows, "\n")
	for i := 2; i < 4; i++ {
		lines[i] = strings.TrimSuffix(lines[i], from+"\n") + to + "\n"
	}
	return strings.Join(lines, "")
}

// A pull whose readings come from two sessions is left out of a joint fit of the pulls of its
// spot: its row is that of its own fit and says so. The pulls that are whole are joined.
func TestJointLeavesMixedSessionsOut(t *testing.T) {
	for _, pulls := range []int{2, 3} {
		f := newFolder(t)
		d := f.start()
		f.enrol(d, "later.csv", pullHeader+"roof,2,180,2026-07-01\n")
		rows := sessionMapHeader + f.sitting("E1", 0, 118, "s0", 1.01, 0.3, 1) +
			halves(f.sitting("E1", 1, 112, "s0", 0.99, -0.3, 2), "s0", "s1")
		if pulls == 3 {
			rows += f.sitting("E1", 2, 110, "s2", 1, 0, 3)
		}
		f.takeIn(d, "map.csv", rows)
		f.fit(d)
		own, joint := results(t, d), jointResults(t, d)
		require.Len(t, joint, pulls)
		for i := range joint {
			alone := i == 1 || pulls == 2 // nothing is left to join a single one to
			assert.Equal(t, i == 1, slices.Contains(own[i].Flags, evaluate.FlagSessions), own[i].Flags)
			assert.Equal(t, alone, slices.Contains(joint[i].Flags, evaluate.FlagNotJoint), "pull %d: %v", i, joint[i].Flags)
			assert.Equal(t, alone, own[i].SolarT == joint[i].SolarT, "pull %d", i)
			assert.Equal(t, i == 1, slices.Contains(joint[i].Flags, evaluate.FlagSessions))
		}
	}
}

