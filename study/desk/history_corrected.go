package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/life"
	"wane/study/store"
)

// Corrected is what one line of the log corrected that concerns a coupon.
type Corrected struct {
	Line    study.Entry // who, when and why
	Changes []Change    // of what is enrolled or measured
	Moves   []store.Move
}

// concern knows which rows concern a coupon.
type concern struct {
	coupon      string
	glass       []string // its glass, and the batch of that
	exposures   map[string]bool
	sessions    map[string]bool // in which it was read
	instruments map[string]bool // of these
	references  map[string]bool
	standards   map[string]bool // that were read there
}

// newConcern is about the coupon of a life, which was read in sessions.
func newConcern(roster *study.Roster, of *life.Life, sessions map[string]bool) *concern {
	c := &concern{coupon: of.Coupon.Coupon, exposures: map[string]bool{}, sessions: sessions, instruments: map[string]bool{},
		references: map[string]bool{}, standards: map[string]bool{}}
	for _, exposure := range of.Exposures(math.MaxInt) {
		c.exposures[exposure] = true
	}
	c.glass = []string{of.Coupon.Glass, of.Coupon.Glass + "/" + of.Coupon.Batch}
	for i := range roster.Sessions {
		if s := &roster.Sessions[i]; sessions[s.Session] {
			c.instruments[s.Instrument], c.references[s.Reference] = true, true
		}
	}
	for i := range roster.Checks {
		if k := &roster.Checks[i]; sessions[k.Session] {
			c.standards[k.Standard] = true
		}
	}
	return c
}

// has reports whether a correction concerns the coupon: it is of its row, its events or its measurements, of an exposure
// that it was in, with the pulls and doses, of its glass, or of a session in which it was read, with the
// instrument, the reference and the check standards of that.
func (c *concern) has(k *store.Correction) bool {
	first, _, _ := strings.Cut(k.Key, "/")
	switch k.Of {
	case "coupon":
		return k.Key == c.coupon
	case "measurement", "coupon_event":
		return strings.HasPrefix(k.Key, c.coupon+"/")
	case "exposure", "pull", "dose_reading":
		return c.exposures[first]
	case "glass", "glass_batch":
		return slices.Contains(c.glass, k.Key)
	case "session", "standard_reading":
		return c.sessions[first]
	case "instrument":
		return c.instruments[first]
	case "reference", "reference_curve":
		return c.references[first]
	case "standard":
		return c.standards[first]
	}
	return false
}

// corrected returns what was corrected that concerns the coupon, by the lines of the log.
func (h *History) corrected(v *store.View, of *concern) error {
	made, moves := map[int64][]store.Correction{}, map[int64][]store.Move{}
	var lines []int64
	err := v.Corrections(func(k store.Kept[store.Correction]) error {
		if of.has(&k.Row) {
			made[k.Line] = append(made[k.Line], k.Row)
			lines = append(lines, k.Line)
		}
		return nil
	})
	if err != nil {
		return err
	}
	err = v.MovesOf(of.coupon, func(m store.Move) error {
		moves[m.Line] = append(moves[m.Line], m)
		lines = append(lines, m.Line)
		return nil
	})
	slices.Sort(lines)
	for _, number := range slices.Compact(lines) {
		if err != nil {
			return err
		}
		c := Corrected{Changes: changesOf(made[number]), Moves: moves[number]}
		c.Line, err = v.Line(number)
		h.Corrected = append(h.Corrected, c)
	}
	return err
}

// Words says what was corrected, to people who look at the coupon with this code.
func (c *Corrected) Words(coupon string) string {
	var parts, moves []string
	if len(c.Changes) > 0 {
		parts = append(parts, summaryOf(c.Changes))
	}
	moved := map[string][]int64{}
	for i := range c.Moves {
		words := moveWords(&c.Moves[i], coupon)
		moves, moved[words] = append(moves, words), append(moved[words], c.Moves[i].Instead)
	}
	for _, words := range addOnce(nil, moves...) {
		parts = append(parts, countedReadings(moved[words])+" "+words)
	}
	return strings.Join(parts, "; ")
}

// moveWords says where a reading went to or came from, and what else of it changed.
func moveWords(m *store.Move, coupon string) string {
	from, to := &m.From, &m.To
	was, is := unitOf(&from.Place), unitOf(&to.Place)
	words := "at " + spotWords(is)
	switch {
	case from.Coupon == coupon && to.Coupon != coupon:
		words = fmt.Sprintf("went from %s to coupon %s, %s", spotWords(was), to.Coupon, spotWords(is))
	case from.Coupon != to.Coupon:
		words = fmt.Sprintf("came from coupon %s, %s, to %s", from.Coupon, spotWords(was), spotWords(is))
	case was != is:
		words = fmt.Sprintf("went from %s to %s", spotWords(was), spotWords(is))
	}
	parts := []string{words}
	differ := func(what string, was, is any) {
		if was != is {
			parts = append(parts, fmt.Sprintf("%s was %v, becomes %v", what, was, is))
		}
	}
	differ("the angle", fmt.Sprintf("%g°", from.AngleDeg), fmt.Sprintf("%g°", to.AngleDeg))
	differ("the polarisation", from.Polarisation, to.Polarisation)
	differ("the quantity", from.Quantity, to.Quantity)
	differ("the replicate", from.Replicate, to.Replicate)
	differ("the mounting", max(1, from.Mounting), max(1, to.Mounting))
	differ("the session", orNone(from.Session), orNone(to.Session))
	if m.OtherNumbers {
		parts = append(parts, "with other numbers")
	}
	return strings.Join(parts, ", ")
}

// spotWords names a spot of a coupon: pull 1, spot centre, cleaned.
func spotWords(u study.Unit) string {
	words := fmt.Sprintf("pull %d, spot %s", u.Pull, u.Spot)
	if u.Condition != "" {
		words += ", " + u.Condition
	}
	return words
}
