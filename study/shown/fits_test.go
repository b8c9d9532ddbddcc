package shown

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// One line says what a technician can do with a session, and what is missing for the rest.
func TestSupportLine(t *testing.T) {
	coatings := []desk.CoatingSupport{{Coating: "A", Controls: 2, Coupons: 6, Corrected: 6},
		{Coating: "B", Controls: 1, Coupons: 6, Corrected: 5}, {Coating: "C", Controls: 1, Coupons: 6}, {Coating: "D", Coupons: 6}}
	lost := "C (its controls were not read at pull 0 in the same session) and D"
	for _, c := range []struct {
		session  desk.SessionSupport
		settings study.Settings
		want     string
	}{
		{desk.SessionSupport{Session: "S0", Blanks: 1}, study.Settings{Correction: study.RouteNone}, "session S0: 1 dark blank"},
		{desk.SessionSupport{Session: "S1", Blanks: 2, Coatings: coatings}, study.Settings{Correction: study.RouteNone},
			"session S1: 2 dark blanks; changes of A and B (5 of 6 coupons) can be corrected (route controls or session); " +
				"changes of " + lost + " can be corrected by the route session only: no control"},
		{desk.SessionSupport{Session: "S2", Blanks: 2, Coatings: coatings[2:]}, study.Settings{Correction: study.RouteControls},
			"session S2: 2 dark blanks; changes of " + lost + " cannot be corrected in this study: no control"},
		{desk.SessionSupport{Session: "S3", Coatings: coatings[3:], Results: []evaluate.Support{{Of: "solar values"},
			{Of: "thicknesses", OK: true}, {Of: "bare fractions", OK: true}}}, study.Settings{Correction: study.RouteSession},
			"session S3: no dark blank; changes of D cannot be corrected: no control, no dark blank; thicknesses and bare " +
				"fractions can be used, solar values not"},
		{desk.SessionSupport{Session: "S4", Blanks: 1, Coatings: coatings[:1], Results: []evaluate.Support{{Of: "solar values"}}},
			study.Settings{Correction: study.RouteSession}, "session S4: 1 dark blank; changes of A can be corrected (route " +
				"controls or session); do not use its solar values"},
		{desk.SessionSupport{Session: "S5", Blanks: 1, Coatings: coatings[:1]}, study.Settings{OverBlank: true},
			"session S5: 1 dark blank; changes of A can be corrected (route controls)"},
		{desk.SessionSupport{Session: "S6", Blanks: 1, Coatings: []desk.CoatingSupport{coatings[0], coatings[3]}},
			study.Settings{Correction: study.RouteSession}, "session S6: 1 dark blank; changes of A can be corrected (route " +
				"controls); changes of D cannot be corrected: no control, and the session corrects nothing"},
	} {
		assert.Equal(t, c.want, supportLine(&c.session, c.settings))
	}
}
