package difference

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// choice is the coupons of one exposure, by group.
type choice struct {
	data     *series.Data
	opt      Options
	exposure string
	doseUnit string
	names    []string // of groups, in order
	of       map[string][]*series.Coupon
}

// choose returns the exposed coupons of the exposure that is asked for, by group.
func choose(data *series.Data, opt Options) (*choice, error) {
	c := &choice{data: data, opt: opt, of: map[string][]*series.Coupon{}}
	if c.opt.By == "" {
		c.opt.By = population.ByCoating
	}
	if c.opt.Level == 0 {
		c.opt.Level = 0.95
	}
	if err := c.findExposure(); err != nil {
		return nil, err
	}
	for i := range data.Coupons {
		if k := &data.Coupons[i]; k.Role == study.Exposed && k.Exposure == c.exposure {
			name := nameOf(c.opt.By, k)
			c.of[name] = append(c.of[name], k)
			c.doseUnit = k.DoseUnit
		}
	}
	c.names = slices.Sorted(maps.Keys(c.of))
	if err := c.checkAgainst(); err != nil {
		return nil, err
	}
	if len(c.names) < 2 {
		return nil, c.onlyOne()
	}
	if pairs := len(c.names) * (len(c.names) - 1) / 2; c.opt.Against == "" && pairs > MostPairs {
		return nil, &study.Refusal{
			Fault: fmt.Sprintf("%d groups make %d pairs, and %d at most are compared together", len(c.names), pairs,
				MostPairs),
			Try: fmt.Sprintf("compare each with one of them: --against %s", study.Shown(c.names[0])),
		}
	}
	return c, nil
}

// onlyOne refuses a comparison of one group. What is tried has two groups or more.
func (c *choice) onlyOne() error {
	var tries []string
	for _, by := range []population.By{population.ByCoating, population.BySupplier, population.ByLot} {
		names := map[string]bool{}
		for _, k := range c.of[c.names[0]] {
			names[nameOf(by, k)] = true
		}
		if len(names) > 1 {
			tries = append(tries, "--by "+string(by))
		}
	}
	try := fmt.Sprintf("enrol coupons of another %s in this exposure", c.opt.By)
	if len(tries) > 0 {
		try = fmt.Sprintf("compare %s, or %s", strings.Join(tries, " or "), try)
	}
	return &study.Refusal{Fault: fmt.Sprintf("there is nothing to compare %s with: it is the only %s in exposure %s",
		study.Shown(c.names[0]), c.opt.By, study.Shown(c.exposure)), Try: try}
}

// MostPairs is the largest number of pairs that are compared together: those of 45 groups.
const MostPairs = 990

// nameOf names the group of a coupon.
func nameOf(by population.By, c *series.Coupon) string {
	or := func(s string) string {
		if s == "" {
			return "not named"
		}
		return s
	}
	switch by {
	case population.BySupplier:
		return or(c.Supplier)
	case population.ByLot:
		return fmt.Sprintf("%s, lot %s", c.Coating, or(c.Lot)) // two coatings may have lots of the same name
	}
	return or(c.Coating)
}

// findExposure finds the exposure that is asked for, or the only one.
func (c *choice) findExposure() error {
	var all []string
	for i := range c.data.Coupons {
		if k := &c.data.Coupons[i]; k.Role == study.Exposed {
			all = append(all, k.Exposure)
		}
	}
	found, err := FindExposure(all, c.opt.Exposure)
	c.exposure = found
	return err
}

// FindExposure returns the exposure of these that is wanted; empty: the only one. They are those of all exposed coupons,
// in any order, and may repeat. One that is not there is refused, and so are several where none is named.
func FindExposure(all []string, wanted string) (string, error) {
	all = slices.Clone(all)
	slices.Sort(all)
	all = slices.Compact(all)
	switch {
	case len(all) == 0:
		return "", &study.Refusal{Fault: "there is nothing to compare: the study has no exposed coupons",
			Try: "enrol a roster whose coupons have the role exposed: wane enrol ROSTER.csv"}
	case wanted == "" && len(all) == 1:
		return all[0], nil
	case wanted == "":
		return "", &study.Refusal{
			Fault: fmt.Sprintf("the study has %d exposures: %s", len(all), shownList(all)),
			Try:   fmt.Sprintf("name one: --exposure %s", study.Shown(all[0])),
		}
	case !slices.Contains(all, wanted):
		return "", &study.Refusal{Fault: fmt.Sprintf("no exposed coupon is in an exposure %s", study.Shown(wanted)),
			Try: study.DidYouMean(wanted, all, "use one of "+shownList(all))}
	}
	return wanted, nil
}

// checkAgainst refuses a reference that is no group.
func (c *choice) checkAgainst() error {
	if c.opt.Against == "" || c.of[c.opt.Against] != nil {
		return nil
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("there is no %s %s in exposure %s", c.opt.By, study.Shown(c.opt.Against),
			study.Shown(c.exposure)),
		Try: study.DidYouMean(c.opt.Against, c.names, "use one of "+shownList(c.names)),
	}
}

func shownList(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = study.Shown(n)
	}
	return strings.Join(out, ", ")
}

// choosePull returns the pull at which groups are compared: that which is asked for, else the last one of those at
// which most groups have a change.
func (c *choice) choosePull() (int, error) {
	if c.opt.Pull > 0 {
		return c.opt.Pull, nil
	}
	count, at := map[int]int{}, map[string][]int{}
	for _, name := range c.names {
		for _, k := range c.of[name] {
			for i := range k.Points {
				if p := &k.Points[i]; hasChange(p) && !slices.Contains(at[name], p.Pull) {
					at[name] = append(at[name], p.Pull)
					count[p.Pull]++
				}
			}
		}
	}
	best := 0
	for _, pull := range slices.Sorted(maps.Keys(count)) {
		if count[pull] >= count[best] {
			best = pull
		}
	}
	if count[best] >= 2 {
		return best, nil
	}
	var read []string
	for _, name := range c.names {
		if pulls := at[name]; len(pulls) > 0 {
			slices.Sort(pulls)
			read = append(read, fmt.Sprintf("%s has one at %s", study.Shown(name), pullWords(pulls)))
		}
	}
	if len(read) < 2 {
		return 0, c.noChange(read)
	}
	return 0, &study.Refusal{
		Fault: fmt.Sprintf("a difference at a pull cannot be told from these data, because no two groups have a change "+
			"at one pull: %s", strings.Join(read, "; ")),
		Try: fmt.Sprintf("compare rates: add --rate; or read all of them at one pull: wane sheet %s --pull %d --list "+
			"shows what that takes", study.Shown(c.exposure), slices.Max(slices.Collect(maps.Keys(count)))),
	}
}

// noChange refuses a comparison of groups of which at most one has a change.
func (c *choice) noChange(read []string) error {
	why := "no exposed coupon has a change"
	if err := c.allEnded(0); err != nil {
		return err
	}
	if len(read) == 1 {
		why = "only " + strings.Replace(read[0], "has one at", "has a change, at", 1)
	}
	try := "take in a pull after the baseline, and run wane fit"
	if c.data.Quantity.Measured {
		try = "take in what was measured at the baseline and at a pull after it: wane measure TABLE.csv"
	}
	if c.skippedFor(study.FlagNoControl) {
		why += ", and some that were read have no controls that could correct them"
		try = "read controls of each coating in the sessions of its coupons; wane results --routes shows the changes " +
			"without them"
	}
	for _, name := range c.names {
		if ended := c.ended(0, name); ended != "" {
			why += fmt.Sprintf("; all coupons of %s ended before that: %s", study.Shown(name), ended)
			try = tryOthers
			break
		}
	}
	return &study.Refusal{Fault: fmt.Sprintf("a difference of %s cannot be told from these data, because %s",
		c.data.Quantity.Name, why), Try: try}
}

// allEnded refuses a comparison of coupons that had all ended before they could be read at a pull; 0: at any pull after
// their baseline.
func (c *choice) allEnded(pull int) error {
	ended := c.ended(pull, c.names...)
	if ended == "" {
		return nil
	}
	at := "a pull after their baseline"
	if pull > 0 {
		at = fmt.Sprintf("pull %d", pull)
	}
	return &study.Refusal{Fault: fmt.Sprintf("a difference of %s cannot be told from these data, because all exposed "+
		"coupons ended before they were read at %s: %s", c.data.Quantity.Name, at, ended), Try: tryOthers}
}

// tryOthers is what to try where all coupons of a group have ended.
const tryOthers = "expose other coupons, and read them at their baseline and at a pull after it"

// ended names the coupons of groups with what ended them, where the histories of all had ended before they could be read
// at a pull; 0: at any pull after their baseline. Empty: one was read, or goes on.
func (c *choice) ended(pull int, groups ...string) string {
	const few = 4
	var words []string
	for _, name := range groups {
		for _, k := range c.of[name] {
			read := slices.ContainsFunc(k.Points, func(p series.Point) bool {
				return !p.Baseline && p.Pull > k.BaselinePull && (pull == 0 || p.Pull == pull)
			})
			if k.Ended == "" || read || pull > 0 && k.EndedPull > pull {
				return ""
			}
			said := study.Shown(k.Coupon) + " (" + k.Ended
			if k.EndedPull < math.MaxInt && !strings.Contains(k.Ended, "pull") {
				said += fmt.Sprintf(", by pull %d", k.EndedPull)
			}
			words = append(words, said+")")
		}
	}
	if more := len(words) - few; more > 1 {
		words = append(words[:few], fmt.Sprintf("and %d others", more))
	}
	return strings.Join(words, ", ")
}

// skippedFor reports whether a point of a chosen coupon carries a flag and no change.
func (c *choice) skippedFor(flag string) bool {
	for _, all := range c.of {
		for _, k := range all {
			for i := range k.Points {
				if p := &k.Points[i]; math.IsNaN(p.Change.Value) && slices.Contains(p.Flags, flag) {
					return true
				}
			}
		}
	}
	return false
}

func pullWords(pulls []int) string {
	words := make([]string, len(pulls))
	for i, p := range pulls {
		words[i] = fmt.Sprint(p)
	}
	if len(words) == 1 {
		return "pull " + words[0]
	}
	return "pulls " + strings.Join(words, ", ")
}

func hasChange(p *series.Point) bool { return !p.Baseline && !math.IsNaN(p.Change.Value) }

// groupAt returns a group at a pull. It has no units where no coupon has a change.
func (c *choice) groupAt(name string, pull int) Group {
	g := Group{Name: name, LoDose: math.NaN(), HiDose: math.NaN(), Mean: math.NaN(), SD: math.NaN()}
	var members []member
	g.Coating = c.of[name][0].Coating
	for _, k := range c.of[name] {
		if k.Coating != g.Coating {
			g.Coating = ""
		}
		i := slices.IndexFunc(k.Points, func(p series.Point) bool { return p.Pull == pull })
		if i < 0 || !hasChange(&k.Points[i]) {
			g.addWithout(c.data, k, pull, i)
			continue
		}
		p := &k.Points[i]
		members = append(members, member{k, p})
		if !math.IsNaN(p.Dose) {
			if math.IsNaN(g.LoDose) {
				g.LoDose, g.HiDose = p.Dose, p.Dose
			}
			g.LoDose, g.HiDose = min(g.LoDose, p.Dose), max(g.HiDose, p.Dose)
		}
		for _, flag := range p.Flags {
			if slices.Contains(pointFlags, flag) && !slices.Contains(g.Flags, flag) {
				g.Flags = append(g.Flags, flag)
			}
		}
	}
	if g.Coupons = len(members); g.Coupons == 0 {
		return g
	}
	var units []unit
	units, g.Unit, g.Lots = unitsOf(members, c.opt.By)
	g.Units, g.sample = len(units), newSample(units)
	g.Mean, g.SD = g.moments()
	return g
}

// pointFlags are the flags of results that a comparison repeats.
var pointFlags = []string{study.FlagSessionNotTrusted, study.FlagBaselineNotTrusted, study.FlagNoControl,
	study.FlagInstruments, study.FlagDosePlanned, study.FlagTransferred, study.FlagConditions}

// addWithout adds a coupon without a change at a pull; i is its point there, -1: it was not read. A coupon whose
// baseline is this pull, or comes later, is not missing.
func (g *Group) addWithout(data *series.Data, k *series.Coupon, pull, i int) {
	switch {
	case k.BaselinePull >= pull:
	case k.Ended != "" && k.EndedPull <= pull && i < 0:
		g.Ended = append(g.Ended, Without{k.Coupon, k.Ended})
	case i >= 0 && slices.Contains(k.Points[i].Flags, study.FlagNoControl):
		g.Missing = append(g.Missing, Without{k.Coupon, "no control corrects it"})
	case i >= 0 && slices.Contains(k.Points[i].Flags, study.FlagNoBaseline):
		g.Missing = append(g.Missing, Without{k.Coupon, "it has no baseline"})
	case i >= 0:
		g.Missing = append(g.Missing, Without{k.Coupon, "it has no change"})
	default:
		why := "not read"
		for _, s := range data.Skipped {
			if s.Coupon == k.Coupon && s.Pull == pull {
				why = s.Why
			}
		}
		g.Missing = append(g.Missing, Without{k.Coupon, why})
	}
}
