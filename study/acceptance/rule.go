package acceptance

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/protocols/fields"
)

// Rule is a rule of acceptance, as a person wrote it before the data.
type Rule struct {
	Name      string
	Quantity  string // as series names it; of solar values that of the weighting
	Weighting string // energy, photon or none
	Condition string // cleaned or as_found
	Exposure  string
	Dose      float64 // in the unit of the exposure
	By        string  // coating, lot, supplier or exposure
	Limit     float64 // of the loss, in Unit
	Unit      string  // empty: none
	Coupons   int     // at least so many of a group
	Failures  int     // that are allowed of them

	// Share of what the coupons were drawn from is to conform with Confidence. NaN: they are no random draw, and a verdict
	// speaks of these coupons alone.
	Share, Confidence float64

	Looks int      // at which the rule may be judged
	Lost  []string // ends of a coupon's history that do not count as failures

	Text string // as it was written
}

// AsFound reports whether readings of soiled surfaces are judged.
func (r *Rule) AsFound() bool { return r.Condition == asFound }

// Drawn reports whether the coupons are said to be a random draw of something.
func (r *Rule) Drawn() bool { return !math.IsNaN(r.Share) }

// Key is a line of a rule.
type Key struct {
	Name, About string
	Default     string // that stands for a line that is missing; empty: it is needed
}

// Keys returns the lines of a rule in their order.
func Keys() []Key {
	return []Key{
		{"rule", "name of the rule: letters and digits, with single -, _ or . between them. A name is used once in a " +
			"study.", ""},
		{"quantity", "what is judged, as wane trend names it: solar_T, solid, haze, ... The loss is minus the corrected " +
			"change of it, or plus where more is worse, as of haze; of quantities without a direction, such as contact_angle, " +
			"any change is a loss.", ""},
		{"weighting", "energy or photon where the quantity is solar_T (photon judges cell_T); energy of gain and " +
			"gain_kept; photon of cell_T; none of all others.", ""},
		{"condition", "of the readings that count: cleaned (those without a stated condition count too), or as_found, of " +
			"soiled surfaces.", ""},
		{"exposure", "code of the exposure whose coupons are judged.", ""},
		{"dose", "at which they are judged, in the unit of the exposure. Of each coupon the reading nearest to it " +
			"counts, at most 5 % from it.", ""},
		{"by", "coating, lot, supplier or exposure: each of them gets a verdict of its own.", ""},
		{"limit", "the loss that a coupon must stay below, 0 or more, in unit.", ""},
		{"unit", "of the limit: that of a change of the quantity, such as pp; none where it has none.", ""},
		{"n", "how many coupons of a group are judged at least. All that are there are judged.", ""},
		{"failures", "how many of them may fail.", "0"},
		{"share", "of the product that is to conform, above 0 and below 1, such as 0.8; none: the coupons are no random " +
			"draw of it.", ""},
		{"confidence", "with which it is to conform, above 0 and below 1, such as 0.95; none with share: none.", ""},
		{"looks", "how often the rule may be judged on new readings. One look more makes it void.", ""},
		{"lost", "fail: a coupon that was lost, is broken or was taken out before it was read has failed. Or the events " +
			"that do not count as failures, such as [broken, lost].", "fail"},
	}
}

// The words of a rule.
const (
	EnergyWeighting = "energy"
	PhotonWeighting = "photon"
	noWord          = "none"
	asFound         = "as_found"
)

var (
	groupings  = []string{"coating", "lot", "supplier", "exposure"}
	conditions = []string{"cleaned", asFound}
	weightings = []string{EnergyWeighting, PhotonWeighting, noWord}
	causes     = []string{"lost", "broken", "end"} // the events that end the history of a coupon
)

const mostName = 40 // characters

var ruleName = regexp.MustCompile(`^[A-Za-z0-9]+([-_.][A-Za-z0-9]+)*$`)

// Read reads a rule. An error is of type [fields.Faults] and names everything that is wrong with the text; the rule
// then has what could be read. Whether it fits the quantity is for [Rule.Check].
func Read(text []byte) (*Rule, error) {
	keys := Keys()
	names := make([]string, len(keys))
	for i := range keys {
		names[i] = keys[i].Name
	}
	var r fields.Reader
	rule := &Rule{Text: string(text)}
	if top := r.Open(text, "rule", "write rule: and its name in the first line"); top != nil {
		if f := r.Fields(top, "a rule", names); f != nil {
			(&ruleFields{f}).read(rule)
		}
	}
	return rule, r.Err()
}

// ruleFields are the lines of a rule.
type ruleFields struct{ *fields.Fields }

func (f *ruleFields) read(r *Rule) {
	r.Name = f.Text("rule", "name the rule, such as loss-1")
	if r.Name != "" && (!ruleName.MatchString(r.Name) || len(r.Name) > mostName) {
		f.Fault(f.Line("rule"),
			fmt.Sprintf("use letters and digits, with single -, _ or . between them, at most %d characters", mostName),
			"%q is not a name of a rule", r.Name)
	}
	r.Quantity = f.Text("quantity", "name what is judged, such as solar_T")
	r.Weighting = f.word("weighting", weightings)
	if r.Quantity == "solar_T" && r.Weighting == PhotonWeighting {
		r.Quantity = "cell_T"
	}
	r.Condition = f.word("condition", conditions)
	r.Exposure = f.Text("exposure", "write the code of the exposure")
	r.Dose = f.number("dose", "write the dose at which the coupons are judged, in the unit of the exposure")
	if r.Dose == 0 {
		f.Fault(f.Line("dose"), "write a dose above 0", "nothing is lost at the dose 0")
	}
	r.By = f.word("by", groupings)
	r.Limit = f.number("limit", "write the loss that a coupon must stay below")
	if r.Unit = f.Text("unit", "write the unit of the limit, such as pp, or none"); r.Unit == noWord {
		r.Unit = ""
	}
	r.Coupons = f.whole("n", 1, "write how many coupons are judged at least")
	if f.At("failures") != nil {
		r.Failures = f.whole("failures", 0, "write how many coupons may fail")
	}
	if r.Coupons > 0 && r.Failures >= r.Coupons {
		f.Fault(f.Line("failures"), fmt.Sprintf("allow fewer than %d", r.Coupons), "all coupons may fail, so that "+
			"nothing is judged")
	}
	r.Share = f.share("share", "0.8")
	r.Confidence = f.share("confidence", "0.95")
	if f.At("share") != nil && f.At("confidence") != nil && f.isNone("share") != f.isNone("confidence") {
		f.Fault(f.Line("confidence"), "write none for both where the coupons are no random draw, else a number for both",
			"share and confidence go together, and one of them is none")
	}
	r.Looks = f.whole("looks", 1, "write how often the rule may be judged")
	r.Lost = f.lost()
}

// word returns one of some words, empty after a fault.
func (f *ruleFields) word(name string, words []string) string {
	try := "write one of " + strings.Join(words, ", ")
	word := f.Text(name, try)
	if word != "" && !slices.Contains(words, word) {
		f.Fault(f.Line(name), try, "%s cannot be %q", name, word)
		return ""
	}
	return word
}

// number returns a number of at least 0, NaN after a fault.
func (f *ruleFields) number(name, try string) float64 {
	n := f.Needed(name, try)
	if n == nil {
		return math.NaN()
	}
	return f.Number(name, n, 0, math.Inf(1), strings.TrimPrefix(try, "write "))
}

var wholeForm = regexp.MustCompile(`^[0-9]{1,6}$`)

// whole returns a whole number that is at least least, 0 after a fault.
func (f *ruleFields) whole(name string, least int, try string) int {
	n := f.Needed(name, try)
	switch {
	case n == nil:
	case n.Kind != yaml.ScalarNode || !wholeForm.MatchString(n.Value) || fields.ToNumber(n.Value) < float64(least):
		f.Fault(n.Line, fmt.Sprintf("%s: a whole number of at least %d", try, least), "%s cannot be %q", name, n.Value)
	default:
		return int(fields.ToNumber(n.Value))
	}
	return 0
}

// share returns a number above 0 and below 1, NaN for none and after a fault.
func (f *ruleFields) share(name, such string) float64 {
	try := fmt.Sprintf("write a number above 0 and below 1, such as %s, or none where the coupons are no random draw",
		such)
	n := f.Needed(name, try)
	if n == nil || f.isNone(name) {
		return math.NaN()
	}
	x := f.Number(name, n, math.Inf(-1), math.Inf(1), strings.TrimPrefix(try, "write "))
	if x <= 0 || x >= 1 {
		f.Fault(n.Line, try, "%s cannot be %s", name, n.Value)
	}
	return x
}

// isNone reports whether a value is the word none. One that is missing is not.
func (f *ruleFields) isNone(name string) bool {
	n := f.At(name)
	return n != nil && n.Kind == yaml.ScalarNode && n.Value == noWord
}

// lost returns the events that do not count as failures.
func (f *ruleFields) lost() (all []string) {
	try := "write fail, or the events that do not count as failures: " + strings.Join(causes, ", ")
	n := f.At("lost")
	switch {
	case n == nil || !f.Plain(n):
		return nil
	case n.Kind != yaml.SequenceNode:
		all = []string{f.Reader.Text("lost", n, try)}
	default:
		all = f.List("lost", try)
	}
	if slices.Equal(all, []string{"fail"}) {
		return nil
	}
	for _, word := range all {
		if word != "" && !slices.Contains(causes, word) {
			f.Fault(n.Line, try, "lost cannot be %q", word)
		}
	}
	return all
}

// Written returns a number with all its digits.
func Written(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
