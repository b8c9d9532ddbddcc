package report

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"wane/study"
)

// Changes is the figure of the change of a quantity, such as the solar transmittance, against dose. It shows, for
// each group of exposed coupons, the mean with its interval, and faintly the coupons.
// Series of one dose unit share a panel; the panels are below one another. It is designed
// for one to eight groups of up to sixty coupons and a dozen pulls; with more groups the
// legend makes it higher.
type Changes struct {
	Title     string
	Quantity  string  // what changes, in words; empty: solar transmittance, in pp
	Unit      string  // of its changes; empty: it has none
	Corrected bool    // the changes are corrected; otherwise they are as measured
	Limit     float64 // a change at which a line is drawn; 0: none
	Named     bool    // the line of each coupon has its code beside it
	Series    []Series
	Caption   []string    // lines below the panels, broken where they are too long
	Stamp     study.Stamp // the line at the foot
}

// solarTransmittance is the quantity of [NewChanges].
const solarTransmittance = "solar transmittance"

// NewChanges returns a figure of the solar transmittance without series. by is the grouping, such as "coating"; route is
// the correction of the study. Title and caption name both.
func NewChanges(by string, route study.Route) *Changes {
	c := NewChangesOf(solarTransmittance, "pp", by, route)
	c.Caption = slices.Insert(c.Caption, 0, "Front surface, AM1.5 global by energy, 300-2500 nm. "+couponIsUnit)
	return c
}

// couponIsUnit says what a mean is over.
const couponIsUnit = "The coupon is the unit: its spots are averaged."

// NewChangesOf is NewChanges for a quantity, in words, with the unit of its changes.
func NewChangesOf(quantity, unit, by string, route study.Route) *Changes {
	c := &Changes{
		Title: "Change of " + quantity + " by " + by, Quantity: quantity, Unit: unit,
		Corrected: route != study.RouteNone,
	}
	if quantity != solarTransmittance {
		c.Caption = []string{couponIsUnit}
	}
	switch route {
	case study.RouteControls:
		c.Caption = append(c.Caption,
			"Corrected by the mean change of the controls of the same coating; its uncertainty is in the intervals.")
	case study.RouteSession:
		c.Caption = append(c.Caption,
			"Corrected by a fit of each session, which removes what all its spots share; its uncertainty is in the intervals.")
	}
	return c
}

// Series is a group of coupons in one exposure. In all panels of a figure equal
// names have the same style.
type Series struct {
	Name     string
	DoseUnit string  // days, hours, cycles, kWh/m2 or another
	Points   []Point // one for each pull, in the order in which lines join them
	Fitted   []At    // a curve that is drawn instead of the lines between the means; empty: none
}

// At is a change at a dose.
type At struct{ Dose, Change float64 }

// Point holds the mean and the coupons of a group at one pull.
type Point struct {
	Dose         float64        // in the unit of its series
	Start        int            // the pull at which the history of its coupons begins: others are not expected here
	Mean, Lo, Hi float64        // mean over coupons and its 95 % interval; both ends NaN: no interval
	Coupons      []CouponChange // each coupon once
}

// CouponChange is the mean change of one coupon over its spots, in the unit of its figure.
type CouponChange struct {
	Coupon string
	Change float64
}

// Heights of the panels in points, axes and their labels included: of a single panel, and
// of each of several.
const (
	changeHeight  = 350
	changesHeight = 250
)

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Groups are drawn side by side at each dose. Their distance from it is at most 3 % of the
// axis of doses and a quarter of the way to the next pull; the figure states the largest
// distance. A bar that is much longer than the range of the changes is cut at the edge of
// its panel and ends in an arrow head there; a line below the caption counts these bars.
// Values that are not finite, or of a million and more, are not drawn; another line counts
// these points. Below the caption are also listed the coupons of a group without a value
// at a dose where others of the group have one.
//
// It is an error if there is no series, if one has no points or no dose unit, if
// two of one dose unit have the same name, if a mean is not within its interval,
// if the format is another one, or if w fails.
func (c *Changes) Write(w io.Writer, format string) error {
	if err := c.check(); err != nil {
		return err
	}
	return write(w, format, c.sheet)
}

// check returns the error of Write for the content of the figure.
func (c *Changes) check() error {
	if len(c.Series) == 0 {
		return errors.New("report: there is no group to draw")
	}
	seen := map[[2]string]bool{}
	for i := range c.Series {
		s := &c.Series[i]
		if len(s.Points) == 0 {
			return fmt.Errorf("report: group %q has no points", s.label())
		}
		if s.unit() == "" {
			return fmt.Errorf("report: group %q has no dose unit", s.label())
		}
		key := [2]string{s.label(), s.unit()}
		if seen[key] {
			return fmt.Errorf("report: two groups are named %q, both with doses in %s", s.label(), s.unit())
		}
		seen[key] = true
		for _, p := range s.Points {
			if p.Lo > p.Mean || p.Mean > p.Hi {
				return fmt.Errorf("report: the mean of group %q at a dose of %g %s is %g %s, outside its interval",
					s.label(), p.Dose, s.unit(), p.Mean, c.unit())
			}
		}
	}
	return nil
}

// label returns the name of a series in the legend.
func (s *Series) label() string {
	if label := words(s.Name); label != "" {
		return label
	}
	return notStated
}

// unit returns the dose unit as people write it.
func (s *Series) unit() string { return strings.ReplaceAll(words(s.DoseUnit), "/m2", "/m²") }

// sheet returns the figure as a sheet.
func (c *Changes) sheet(width vg.Length) *sheet {
	names := c.distinct((*Series).label)
	var panels []dosePanel
	for _, unit := range c.distinct((*Series).unit) {
		panels = append(panels, newDosePanel(unit, names, c))
	}
	s := newSheet(width, c.Title, changesLegend(names, panels), c.Caption, c.notes(panels))
	s.sign(c.count(), c.Stamp)
	height, between := vg.Length(changeHeight), " "
	if len(panels) > 1 {
		height, between = changesHeight, "\n"
	}
	for i := range panels {
		key := panels[i].key()
		if i == 0 {
			key = c.key() + key
		}
		room := height
		if c.Named {
			room = max(height, panels[i].addNames(width))
		}
		s.add(panels[i].plot(c.axisLabel(between)), room, key)
	}
	return s
}

// count says how many coupons the figure has.
func (c *Changes) count() string {
	coupons := map[string]bool{}
	for i := range c.Series {
		for _, p := range c.Series[i].Points {
			for _, coupon := range p.Coupons {
				coupons[coupon.Coupon] = true
			}
		}
	}
	return counted(len(coupons), "coupon") + " in " + counted(len(c.distinct((*Series).label)), "group")
}

// key says what is drawn.
func (c *Changes) key() string {
	key := "Marks: mean over the coupons.  Bars: its 95 % confidence interval (two coupons or more).  Faint: coupons.  "
	if slices.ContainsFunc(c.Series, func(s Series) bool { return len(s.Fitted) > 0 }) {
		key += "Lines: the fitted shape.  "
	}
	if c.Limit != 0 {
		key += "Level line: the limit.  "
	}
	return key
}

// distinct returns the different values of all series, in the order of their first series.
func (c *Changes) distinct(value func(*Series) string) []string {
	var out []string
	for i := range c.Series {
		if v := value(&c.Series[i]); !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	return out
}

// axisLabel returns the label of the axis of changes; between is a space or a new line.
func (c *Changes) axisLabel(between string) string {
	unit := c.unit()
	if unit != "" {
		unit = " / " + unit
	}
	if c.Corrected {
		return "Corrected change of" + between + c.quantity() + unit
	}
	return "Change of " + c.quantity() + between + "(as measured)" + unit
}

func (c *Changes) quantity() string {
	if c.Quantity == "" {
		return solarTransmittance
	}
	return c.Quantity
}

// unit returns the unit of the changes.
func (c *Changes) unit() string {
	if c.Quantity == "" {
		return "pp"
	}
	return c.Unit
}

// leastRange returns the least length of the axis of changes, so that what is next to nothing does not fill it.
func (c *Changes) leastRange() float64 {
	switch c.unit() {
	case "pp":
		return 0.02
	case "":
		return 0.002
	case "g":
		return 1e-4
	}
	return 0.2 // nm, degrees, GU
}

// changesLegend returns a legend with one entry for each name, with its number of coupons.
func changesLegend(names []string, panels []dosePanel) legend {
	key := legend{head: []string{"Group"}, markRadius: meanMark, ground: ground()}
	for i, name := range names {
		coupons := emptySpan()
		for _, p := range panels {
			for _, t := range p.trajectories {
				if t.name == name {
					coupons = coupons.with(t.coupons.lo).with(t.coupons.hi)
				}
			}
		}
		key.entries = append(key.entries, entry{styleOf(i), bodyStyle().wrap(name, labelMost), couponsNote(coupons)})
	}
	return key
}

// coupons is the range of a number of coupons, 0: not known.
func coupons(n int) span {
	if n == 0 {
		return emptySpan()
	}
	return span{float64(n), float64(n)}
}

// couponsNote returns the number of coupons at a pull in words, nil if it is not known.
func couponsNote(n span) []string {
	switch {
	case n.lo > n.hi:
		return nil
	case n.lo < n.hi:
		return []string{fmt.Sprintf("%g to %g coupons", n.lo, n.hi)}
	case n.hi == 1:
		return []string{"1 coupon"}
	}
	return []string{fmt.Sprintf("%g coupons", n.hi)}
}

// notes returns the lines about values that are missing, cut or not drawn.
func (c *Changes) notes(panels []dosePanel) []string {
	cut, leftOut := 0, 0
	for _, p := range panels {
		cut += p.cut()
		for _, t := range p.trajectories {
			leftOut += t.leftOut
		}
	}
	var notes []string
	if missing := missingCoupons(c.Series); missing != "" {
		notes = append(notes, missing)
	}
	if cut > 0 {
		notes = append(notes, fmt.Sprintf("Bars cut at the edge of their panel, with an arrow head there: %d.", cut))
	}
	return append(notes, leftOutNote(leftOut)...)
}
