package scenario

import (
	_ "embed"
	"math"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/protocols/fields"
	"wane/study"
	"wane/study/power"
)

// Limits of plans: beyond them a rehearsal would not end.
const (
	mostCoupons = 2000
	mostPulls   = 50
	mostStudies = 1000000
	mostPoints  = 4001
)

var (
	planKeys = []string{"plan", "studies", "tries", "seed", "correction", "glass", "back", "blanks", "sessions", "exposure",
		"coatings", "reading", "errors", "faults", "compare", "rule"}
	exposureKeys = []string{"dose-unit", "pulls"}
	coatingKeys  = []string{"coating", "supplier", "lots", "coupons", "controls", "spots", "thickness", "porosity", "bare",
		"spread", "loss"}
	spreadKeys  = []string{"lot", "coupon", "spot"}
	lossKeys    = []string{"by", "law", "mean", "sd", "lot"}
	readingKeys = []string{"angles", "low", "high", "step", "noise", "mountings", "light-trap"}
	faultKeys   = []string{"lost", "join", "leached-blank", "soiling"}
	faultParts  = []string{"chance", "size"}
	compareKeys = []string{"by", "level", "margin"}
	ruleKeys    = []string{"coating", "limit", "failures", "share", "confidence", "lost"}
)

// ReadPlan reads a plan. An error is of type [fields.Faults] and names everything that is wrong. The keys stand in the guide, and
// in an example of it ([Example]).
func ReadPlan(text []byte) (*Plan, error) {
	r := &planReader{plan: &Plan{Text: string(text)}}
	if top := r.Open(text, "plan", "write plan: and its name in the first line"); top != nil {
		r.read(top)
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return r.plan, nil
}

type planReader struct {
	fields.Reader
	plan *Plan
}

// part is a mapping of a plan.
type part struct{ *fields.Fields }

// part returns the mapping of a key of another one; nil if it is not there, or after a fault.
func (r *planReader) part(of part, key, what string, names []string) *part {
	n := of.At(key)
	if n == nil {
		return nil
	}
	if f := r.Fields(n, what, names); f != nil {
		return &part{f}
	}
	return nil
}

// number returns a number of a key, or fallback where there is none.
func (f part) number(key string, fallback, low, high float64, about string) float64 {
	n := f.At(key)
	if n == nil {
		return fallback
	}
	return f.Number(key, n, low, high, about)
}

// needed is number for one that has no fallback.
func (f part) needed(key string, low, high float64, about string) float64 {
	n := f.Needed(key, "write "+about)
	if n == nil {
		return math.NaN()
	}
	return f.Number(key, n, low, high, about)
}

// count returns a whole number.
func (f part) count(key string, fallback, low, high int, about string) int {
	x := f.number(key, float64(fallback), float64(low), float64(high), about)
	if x != math.Trunc(x) {
		if !math.IsNaN(x) {
			f.Fault(f.Line(key), "write "+about, "%s must be a whole number, not %s", key, f.At(key).Value)
		}
		return fallback
	}
	return int(x)
}

// word returns one of some words.
func (f part) word(key, fallback string, words ...string) string {
	n := f.At(key)
	if n == nil {
		return fallback
	}
	if n.Kind != yaml.ScalarNode || !slices.Contains(words, n.Value) {
		f.Fault(n.Line, "write one of "+strings.Join(words, ", "), "%s is not %q", key, n.Value)
		return fallback
	}
	return n.Value
}

func (r *planReader) read(top *yaml.Node) {
	all := r.Fields(top, "a plan", planKeys)
	if all == nil {
		return
	}
	f, p := part{all}, r.plan
	p.Name = f.name("plan", "name the plan: letters, digits and hyphens")
	p.Studies = f.count("studies", 1000, 1, mostStudies, "how many studies are made up, such as 1000")
	p.Tries = f.count("tries", min(200, p.Studies), 0, mostStudies, "how many studies each improvement is tried on, 0 for none")
	p.Seed = uint64(f.count("seed", 1, 0, math.MaxInt32, "a whole number; another one draws other studies"))
	p.Route = study.Route(f.word("correction", string(study.RouteControls), string(study.RouteNone),
		string(study.RouteControls), string(study.RouteSession)))
	p.Glass = f.word("glass", "soda-lime", "soda-lime", "low-iron", "fused-silica", "borosilicate-crown")
	p.Back = f.word("back", "matched", "matched", "blackened")
	p.Blanks = f.count("blanks", 1, 0, mostCoupons, "how many dark blanks there are of the glass of each coating")
	p.Apart = f.word("sessions", "together", "together", "apart") == "apart"
	r.exposure(f)
	r.coatings(f)
	r.reading(f)
	r.errors(f)
	r.faults(f)
	r.compare(f)
	r.rule(f)
	switch {
	case r.Found() > 0:
	case p.Compare == nil && p.Rule == nil:
		r.Fault(f.Line("plan"), "add compare: or rule:, or both", "the plan asks nothing: it has neither compare nor rule")
	case p.Tries > p.Studies:
		r.Fault(f.Line("tries"), "try improvements on the studies that are made as planned, or on fewer", "%d tries are more than "+
			"the %d studies", p.Tries, p.Studies)
	case p.Readings() > 100*mostCoupons:
		r.Fault(f.Line("coatings"), "plan fewer coupons, spots, pulls or mountings", "%d coupon readings are too many to rehearse",
			p.Readings())
	}
}

var nameForm = regexp.MustCompile(`^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$`)

// name returns a name of which codes of coupons can be made.
func (f part) name(key, try string) string {
	word := f.Text(key, try)
	if word != "" && (!nameForm.MatchString(word) || len(word) > 30) {
		f.Fault(f.Line(key), "use letters, digits and single hyphens, at most 30 characters", "%q is not a name", word)
	}
	return word
}

func (r *planReader) exposure(top part) {
	p := r.plan
	if top.Needed("exposure", "say when coupons are read: exposure: {dose-unit: days, pulls: [0, 90, 180]}") == nil {
		return
	}
	f := r.part(top, "exposure", "an exposure", exposureKeys)
	if f == nil {
		return
	}
	p.DoseUnit = f.word("dose-unit", "days", "days", "hours", "cycles", "kWh/m2")
	const try = "write the doses of the pulls, the first of them 0: pulls: [0, 90, 180, 365]"
	items := f.Items("pulls", try)
	for i, item := range items {
		dose := r.Number("the dose of a pull", item, 0, 1e6, "the dose of each pull in dose-unit")
		switch {
		case math.IsNaN(dose):
		case i == 0 && dose != 0:
			r.Fault(item.Line, "begin with 0: pull 0 is before exposure", "the dose of pull 0 is %s, not 0", item.Value)
		case i > 0 && dose <= p.Doses[i-1]:
			r.Fault(item.Line, "let the dose rise from pull to pull", "the dose %s of pull %d is not above that of pull %d",
				item.Value, i, i-1)
		case p.DoseUnit == "days" && dose != math.Trunc(dose):
			r.Fault(item.Line, "write whole days", "a pull at %s days has no date", item.Value)
		}
		p.Doses = append(p.Doses, dose)
	}
	if n := len(p.Doses); items != nil && (n < 2 || n > mostPulls) {
		r.Fault(f.Line("pulls"), try, "a study has 2 to %d pulls, and this one has %d", mostPulls, n)
	}
}

func (r *planReader) coatings(top part) {
	names := map[string]int{}
	for _, item := range top.Items("coatings", "write the coatings of the study: coatings: [{coating: A, coupons: 8, ...}]") {
		all := r.Fields(item, "a coating", coatingKeys)
		if all == nil {
			continue
		}
		f := part{all}
		c := Coating{Coating: f.name("coating", "name the coating: letters, digits and hyphens")}
		if at, known := names[c.Coating]; known && c.Coating != "" {
			r.Fault(f.Line("coating"), "give each coating a name of its own", "%s is a coating in line %d already", c.Coating, at)
		}
		names[c.Coating] = f.Line("coating")
		c.Supplier = "maker-" + c.Coating
		if f.At("supplier") != nil {
			c.Supplier = f.name("supplier", "name the supplier: letters, digits and hyphens")
		}
		c.Lots = f.count("lots", 1, 1, mostCoupons, "how many lots the coupons come from")
		const exposed = "how many coupons of the coating are exposed, in all"
		if f.Needed("coupons", "write "+exposed) != nil {
			c.Coupons = f.count("coupons", c.Lots, 1, mostCoupons, exposed)
		}
		c.Controls = f.count("controls", 2, 0, mostCoupons, "how many coated coupons stay in the dark")
		c.Spots = f.count("spots", 1, 1, 20, "how many spots of each coupon are read")
		c.Thickness = f.needed("thickness", 1, 1000, "the thickness of the film in nm, such as 118")
		c.Porosity = f.needed("porosity", 0, 0.9, "the porosity of the film, a fraction such as 0.36")
		c.Bare = f.number("bare", 0, 0, 1, "the share of the surface without film at pull 0, a fraction")
		if s := r.part(f, "spread", "a spread of thickness", spreadKeys); s != nil {
			c.SpreadLot = s.number("lot", 0, 0, 100, "the standard deviation between lots in nm")
			c.SpreadCoupon = s.number("coupon", 0, 0, 100, "the standard deviation between coupons in nm")
			c.SpreadSpot = s.number("spot", 0, 0, 100, "the standard deviation between spots in nm")
		}
		if c.Coupons > 0 && c.Coupons < c.Lots {
			r.Fault(f.Line("lots"), "plan at least one coupon of each lot", "%d coupons cannot come from %d lots", c.Coupons, c.Lots)
		}
		r.loss(f, &c)
		r.plan.Coatings = append(r.plan.Coatings, c)
	}
}

func (r *planReader) loss(of part, c *Coating) {
	if of.Needed("loss", "say what it loses by the last pull: loss: {law: normal, mean: 0.3, sd: 0.05}") == nil {
		return
	}
	f := r.part(of, "loss", "a loss", lossKeys)
	if f == nil {
		return
	}
	l := &c.Loss
	l.Patches = f.word("by", "thinning", "thinning", "patches") == "patches"
	l.Law = power.Law(f.word("law", string(power.Normal), string(power.Normal), string(power.Exponential), string(power.Lognormal)))
	l.Mean = f.needed("mean", 0, 5, "the mean loss of solar transmittance by the last pull, in pp, such as 0.3")
	l.SD = f.number("sd", 0, 0, 5, "the standard deviation between the coupons of a lot, in pp")
	l.Lot = f.number("lot", 0, 0, 5, "the standard deviation between lots, in pp")
	switch {
	case l.Law == power.Exponential && (f.At("sd") != nil || f.At("lot") != nil):
		r.Fault(of.Line("loss"), "leave sd and lot out, or write law: lognormal",
			"the standard deviation of exponential losses is their mean, and there is none between lots")
	case l.Law != power.Normal && l.Mean == 0:
		r.Fault(of.Line("loss"), "write a mean above 0, or law: normal", "%s losses have a mean above 0", l.Law)
	}
	if l.Law == power.Exponential {
		l.SD = l.Mean
	}
}

//go:embed example.yaml
var example string

// Example returns a plan that has every key, with what each of them means.
func Example() string { return example }
