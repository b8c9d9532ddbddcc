package ageing_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/testdata/foreign"
)

// scene is a kind of small study: how it is drawn, and how the lab makes it.
type scene struct {
	name      string
	plan      foreign.Plan
	law       foreign.Law
	overBlank bool // readings are evaluated over those of the dark blank
	noBatch   bool // the lab does not state that the blank is of the glass of the coupons
	beyond    bool // the law ends before it
}

// The number of studies a scene: of the one that .ci/run makes, and where WANE_LONG is 1. Another number is taken as it is.
const shortStudies, longStudies = 30, 2000

// band has half the points of the standard set-up, with noise that says as much. It takes less time.
var band = foreign.NewBand(380, 1100, 181)

const noise = 0.0003 / math.Sqrt2

// studyPlan is a study of four exposed coupons of two spots, two controls of one spot, and one dark blank, of one
// coating and one batch of glass, read at pulls 0 and 1.
func studyPlan() foreign.Plan {
	p := foreign.StandardPlan()
	p.Coupons, p.Spots, p.ControlSpots = 4, 2, 1
	p.Setup.Band = band
	p.BareEffect = foreign.SceneNamed("patchy").BareEffect
	return p
}

// loses is 0.3 pp on the mean, and about a fifth of it differs between coupons.
func loses(by foreign.Dial) foreign.Loss {
	return foreign.Loss{By: by, MeanPP: -0.3, CouponCV: 0.2, SpotCV: 0.1}
}

// scenes are the studies of the table. Where they say nothing else, films are patchy and nothing changes.
func scenes() []*scene {
	with := func(name string, change func(*scene)) *scene {
		s := &scene{name: name, plan: studyPlan(), law: foreign.Prior()}
		s.law.NoiseSD = noise
		change(s)
		return s
	}
	beyond := func(name, fault string) *scene {
		return with(name, func(s *scene) { s.law, s.beyond = s.law.Beyond(fault), true })
	}
	return []*scene{
		with("patchy, unchanged", func(*scene) {}),
		with("fresh, unchanged", func(s *scene) { s.plan.BareEffect = foreign.Effect{} }),
		with("thinning", func(s *scene) { s.plan.Loss = loses(foreign.Thinning) }),
		with("getting patchy", func(s *scene) { s.plan.Loss = loses(foreign.Patching) }),
		with("controls that age", func(s *scene) {
			s.plan.Loss = loses(foreign.Thinning)
			s.plan.Loss.ControlMeanPP, s.plan.Loss.ControlCV = -0.1, 0.3
		}),
		with("no dark blank", func(s *scene) { s.plan.Blanks = 0 }),
		with("no controls", func(s *scene) { s.plan.Controls = 0 }),
		with("blackened", func(s *scene) { s.plan.Setup.Back = "blackened" }),
		with("light trap", func(s *scene) { s.plan.LightTrap = true }),
		with("over the blank", func(s *scene) { s.overBlank = true }),
		with("batch not stated", func(s *scene) { s.noBatch = true }),
		beyond("placement 0.3 %, 0.1°", "placement"),
		beyond("zero ±0.0005", "zero"),
		beyond("skin 10 nm", "skin"),
		beyond("leached dark blank", "leached-dark-blank"),
		beyond("gradient ±0.05", "gradient"),
		beyond("spread 5 %", "spread"),
		beyond("glass +0.01", "glass"),
		beyond("join 0.001", "join"),
		beyond("leached glass 50 nm", "leached-glass"),
		beyond("zero that slopes", "sloping-zero"),
		beyond("residue 3 nm", "residue"),
		beyond("correlated noise", "correlated-noise"),
	}
}

// claimed are the quantities of the table, in its order.
var claimed = []string{"change, none", "corrected, controls", "corrected, session", "change, session",
	"gain kept, none", "gain kept, session", "material, none", "material, session", "group, none", "group, controls", "group, session",
	"controls less none", "session less none", "session less controls"}

// The 95 % intervals of small studies that are made up by the law contain the truth as often as they say, by every
// route, of spots and of groups, and unchanged coupons are called changed as seldom: 2,000 studies a scene where
// WANE_LONG is set. The simulator shares no optics with the program. Beyond the law 90 % are asked, or a flag in 80
// %.
func TestCoverageOfStudies(t *testing.T) {
	all, n := scenes(), longStudies
	switch stated, err := strconv.Atoi(os.Getenv("WANE_LONG")); {
	case os.Getenv("WANE_LONG") == "":
		all, n = all[:1], shortStudies
	case err == nil && stated > 1:
		n = stated
	}
	for i, s := range all {
		t.Run(s.name, func(t *testing.T) {
			found, err := simulate(s, uint64(2000+i), n)
			require.NoError(t, err)
			var table strings.Builder
			for _, what := range claimed {
				if l := lineOf(s, what, found); l.counted > 0 {
					fmt.Fprintln(&table, &l)
					l.check(t)
				}
			}
			differ := 0
			for i := range found {
				if found[i].differ {
					differ++
				}
			}
			t.Logf("\n%s\n%sroutes called different in %.1f %% of %d studies", lineHead, table.String(),
				100*float64(differ)/float64(n), n)
		})
	}
}
