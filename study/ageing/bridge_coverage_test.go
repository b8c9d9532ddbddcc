package ageing_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/testdata/foreign"
)

// bridgedRun is a study that the simulator made: pull 0 was read in a session on one instrument, pull 1 on another, and two
// spare coupons at pull 1 on both. Nothing changes.
type bridgedRun struct {
	roster *study.Roster
	of     map[string]*fits // of the three sessions
	codes  [4]string        // exposed, two spare ones, control
}

// newBridgedRun evaluates run number n: the second session is a second one of pull 1.
func newBridgedRun(t *testing.T, l *lab, n uint64) *bridgedRun {
	s := scenes()[0]
	s.plan.Pulls, s.plan.Coupons, s.plan.Controls = 2, 3, 1
	made := s.plan.Run(s.law, 31, n)
	b := &bridgedRun{roster: rosterOf(s, &made, rand.New(rand.NewPCG(31, n)))}
	var err error
	b.of, err = l.fitsOf(s, b.roster, &made)
	require.NoError(t, err)
	for i, instrument := range []string{"old", "old", "new"} {
		b.roster.Sessions = append(b.roster.Sessions, study.Session{Session: made.Sessions[i].Code, Instrument: instrument})
	}
	for i := range b.codes {
		b.codes[i] = made.Coupons[i].Code
	}
	return b
}

// bridges are those by the spare coupons, as the desk makes them: by fits of single spots.
func (b *bridgedRun) bridges() []ageing.Bridge {
	var pairs []ageing.BridgePair
	for _, code := range b.codes[1:3] {
		bySpot := map[string]*study.Fit{}
		for _, f := range b.of[code].single {
			switch f.Pull {
			case 1:
				bySpot[f.Spot] = f
			case 2:
				pairs = append(pairs, ageing.BridgePair{From: "old", To: "new", A: bySpot[f.Spot], B: f})
			}
		}
	}
	return ageing.NewBridges(study.FollowedSolarT(), pairs)
}

// fits are those of a coupon that was read in the first session and in the third, at pull 1.
func (b *bridgedRun) fits(code string) (list []*study.Fit) {
	for _, f := range b.of[code].joint {
		if f.Pull != 1 {
			at := *f
			at.Pull = min(1, f.Pull)
			list = append(list, &at)
		}
	}
	return list
}

// By the route session the change of a coupon across two instruments, less the offset that spare coupons state, is as far
// from the truth as its uncertainty says; and its contrast to the controls is that without a bridge.
func TestBridgedSessions(t *testing.T) {
	const studies = 24
	l := &lab{evaluators: map[string]*evaluate.Evaluator{}}
	found := make([]outcome, studies)
	for n := range found {
		b := newBridgedRun(t, l, uint64(n))
		row := func(bridges []ageing.Bridge) *study.Result {
			c := ageing.NewChanges(b.roster, study.RouteSession)
			c.SetBridges(bridges)
			c.AddControl(b.fits(b.codes[3]))
			rows := c.Rows(b.fits(b.codes[0]))
			require.EqualValues(t, 1, rows[len(rows)-1].Pull)
			return rows[len(rows)-1]
		}
		with, without := row(b.bridges()), row(nil)
		require.Contains(t, with.Flags, study.FlagBridged)
		require.Contains(t, without.Flags, study.FlagInstruments)
		require.EqualValues(t, 1, with.NControls)
		assert.Greater(t, with.Change.U, without.Change.U)
		assert.InDelta(t, float64(without.CorrectedChange.Value), float64(with.CorrectedChange.Value), 1e-12)
		assert.InDelta(t, float64(without.CorrectedChange.U), float64(with.CorrectedChange.U), 1e-9)
		found[n].claims = map[string]claim{}
		found[n].claimOf("change", with.Change, 0, with.Flags)
		found[n].claimOf("corrected", with.CorrectedChange, 0, with.Flags)
	}
	squares := distuv.ChiSquared{K: studies}
	for _, what := range []string{"change", "corrected"} {
		l := lineOf(&scene{name: "bridged", law: foreign.Prior()}, what, found)
		require.Equal(t, studies, l.counted)
		t.Log(&l)
		assert.Less(t, l.squares, squares.Quantile(0.9995), what)
		assert.Greater(t, l.squares, squares.Quantile(0.0005), what)
	}
}
