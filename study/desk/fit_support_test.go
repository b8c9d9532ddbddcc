package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// What a session supports follows from what was read in it: K has a control for both of its coupons; L for one of
// two, of which the other began in another session; the control of M was not read at pull 0; N has none, as the
// control of another exposure does not count, nor a soiled one for a clean reading. Blanks count by coupons. Readings
// that are held or set aside do not count.
func TestWhatSessionsSupport(t *testing.T) {
	w := &fitWorkspace{coupons: map[string]*study.Coupon{}}
	coupon := func(code string, role study.Role, coating, exposure string) {
		w.coupons[code] = &study.Coupon{Coupon: code, Role: role, Coating: coating, Exposure: exposure}
	}
	read := func(code string, pull int, session, condition string, counted int) {
		w.units = append(w.units, store.Unit{Unit: study.Unit{Coupon: code, Pull: pull, Spot: "1", Condition: condition},
			Session: session, Counted: counted})
	}
	for _, c := range []string{"K", "L", "M", "N"} {
		coupon(c+"1", study.Exposed, c, "roof")
		coupon(c+"2", study.Exposed, c, "roof")
		coupon(c+"C", study.Control, c, "")
		for _, code := range []string{c + "1", c + "2", c + "C"} {
			if code != "L2" && code != "MC" {
				read(code, 0, "spring", "", 4)
			}
			if code != "NC" {
				read(code, 1, "autumn", "", 4)
			}
		}
	}
	read("L2", 0, "late", "", 4)
	read("MC", 0, "spring", "", 0) // set aside
	coupon("ND", study.Control, "N", "rack")
	read("ND", 0, "spring", "", 4)
	read("ND", 1, "autumn", "", 4)
	read("NC", 1, "autumn", "as_found", 4)
	coupon("B1", study.Blank, "", "")
	coupon("B2", study.Blank, "", "")
	coupon("B3", study.BlankExposed, "", "roof")
	for _, b := range []string{"B1", "B2", "B3"} {
		read(b, 1, "autumn", "", 4)
	}
	read("B2", 1, "late", "", 0)

	all := w.supportOf(map[string]bool{"autumn": true, "late": true, "": true})
	assert.Equal(t, []SessionSupport{
		{Session: "autumn", Blanks: 2,
			Coatings: []CoatingSupport{{"K", 1, 2, 2}, {"L", 1, 2, 1}, {"M", 1, 2, 0}, {"N", 2, 2, 0}}},
		{Session: "late", Coatings: []CoatingSupport{{"L", 0, 1, 0}}},
	}, all)
	assert.Equal(t, []CoatingSupport{{"K", 1, 2, 2}, {"L", 1, 1, 1}, {"M", 0, 2, 0}, {"N", 2, 2, 2}},
		w.supportOf(map[string]bool{"spring": true})[0].Coatings)

	done := &Fitted{Sessions: all}
	fit := func(code, spot string, flags ...string) *study.Fit {
		f := study.NewFit(study.Unit{Coupon: code, Spot: spot})
		f.Result.Flags = flags
		return f
	}
	results := []evaluate.Support{{Of: "solar values", OK: true}}
	done.addSession(&fitOutcome{session: "autumn", results: results, notes: []string{"a note"},
		fits: []*study.Fit{fit("B1", "1", study.FlagNoAnchor), fit("B2", "1", study.FlagNoAnchor), fit("B2", "2")}})
	assert.Equal(t, 1, done.Sessions[0].Blanks, "a spot of B2 still says what is wrong with the session")
	assert.Equal(t, results, done.Sessions[0].Results)
	assert.Empty(t, done.Sessions[1].Notes)

	again := SessionSupport{Session: "late", Blanks: 1}
	done.replaceSessions([]SessionSupport{again, {Session: "early"}})
	assert.Equal(t, []string{"autumn", "early", "late"},
		[]string{done.Sessions[0].Session, done.Sessions[1].Session, done.Sessions[2].Session})
	assert.Equal(t, again, done.Sessions[2])
}

// Readings that cannot be evaluated correct nothing. Without the control's, the coating has none; without any, the
// session supports nothing and says why.
func TestSessionsSupportWhatIsEvaluated(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	const refused = "total_excluded" // of one reading, beside specular ones
	take := func(name, coupon string, pull int, session, geometry string, seed uint64) {
		f.takeIn(d, name, geometryMapHeader+geometryRows(f.sessionExport(coupon, pull, 118, session, 1, 0, seed), geometry))
	}
	take("e0.csv", "E1", 0, "s0", "specular", 1)
	take("c0.csv", "C1", 0, "s0", refused, 2)
	fit := func() *Fitted {
		done, err := d.Fit(context.Background(), FitOptions{Workers: 1})
		require.NoError(t, err)
		return done
	}
	done := fit()
	require.Len(t, done.Refused, 1)
	assert.Equal(t, []int{2, 1}, []int{done.Fits, done.Failed})
	require.Len(t, done.Sessions, 1)
	assert.Equal(t, []CoatingSupport{{"K", 0, 1, 0}}, done.Sessions[0].Coatings)
	assert.Zero(t, done.Sessions[0].Lost)

	take("e1.csv", "E1", 1, "s1", "specular", 3) // its control was read at both pulls, and not evaluated at pull 0
	take("c1.csv", "C1", 1, "s1", "specular", 4)
	done = fit()
	assert.Equal(t, []CoatingSupport{{"K", 1, 1, 0}}, done.Sessions[0].Coatings)
	assert.Zero(t, done.Failed)

	take("b0.csv", "B1", 0, "s2", refused, 5)
	take("b1.csv", "B1", 1, "s2", refused, 6)
	done = fit()
	require.Len(t, done.Sessions, 1)
	s := done.Sessions[0]
	assert.Zero(t, s.Blanks)
	assert.Equal(t, 2, s.Lost)
	assert.ErrorContains(t, s.Why, "its geometry is total_excluded")
}
