package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/protocols"
	"wane/study"
	"wane/study/bench"
	"wane/study/store"
)

// SheetOptions say which bench sheet is wanted. What is not stated is zero.
type SheetOptions struct {
	bench.Wanted
	Protocol string // of readings, by its name or as name@2; empty: the usual one
	Again    bool   // draw another one, in another order
}

// usualReading is the protocol of readings of a sheet for which no other is named.
const usualReading = "angle-reflectance"

// Sheet returns the last bench sheet that was drawn for a pull, nil if there is none. One that differs from what is
// stated is refused.
func (d *Desk) Sheet(ctx context.Context, opt SheetOptions) (found *bench.Sheet, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		if err := checkPull(roster, opt.Exposure, opt.Pull); err != nil {
			return err
		}
		kept, err := v.Sheet(opt.Exposure, opt.Pull)
		if err != nil || kept == nil {
			return err
		}
		if err := sameSheet(&kept.Row, &opt); err != nil {
			return err
		}
		found, err = d.sheetPage(v, kept, roster)
		return err
	})
	return found, err
}

// DrawSheet draws a bench sheet and keeps it in the study. If there is one already it is that, unless another one is
// wanted. seed is that of the order where none is stated.
func (d *Desk) DrawSheet(ctx context.Context, opt SheetOptions, seed int64) (*bench.Sheet, error) {
	var before bench.Before
	err := d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		before, err = readBefore(v, bench.CouponsAt(roster, opt.Exposure, opt.Pull), opt.Pull)
		return err
	})
	if err != nil {
		return nil, err
	}
	entry := d.entry("sheet", "")
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		roster, err := tx.Roster()
		if err != nil {
			return err
		}
		if err := checkPull(roster, opt.Exposure, opt.Pull); err != nil {
			return err
		}
		there, err := tx.Sheet(opt.Exposure, opt.Pull)
		if err != nil || there != nil && !opt.Again {
			return err
		}
		wanted := opt.Wanted
		if wanted.Seed == 0 {
			wanted.Seed = seed
		}
		s, err := bench.Draw(wanted, roster, before)
		if err != nil {
			return err
		}
		if s.Protocol, err = keepReading(tx, opt.Protocol); err != nil {
			return err
		}
		err = tx.AddSheet(s)
		entry.Summary = sheetSummary(s)
		return err
	})
	if err != nil {
		return nil, err
	}
	opt.Again = false
	return d.Sheet(ctx, opt)
}

// sheetSummary is what the log says of a sheet that was drawn.
func sheetSummary(s *study.Sheet) string {
	n := 0
	for _, l := range s.Lines {
		n += asCount(l.Kind == study.SheetCoupon)
	}
	blind := ""
	if s.Blind {
		blind = ", blind"
	}
	return fmt.Sprintf("drew bench sheet %d of pull %d of exposure %s: order of %d coupons by seed %d%s", s.Number, s.Pull,
		s.Exposure, n, s.Seed, blind)
}

// checkPull refuses an exposure or a pull that is not enrolled.
func checkPull(roster *study.Roster, exposure string, pull int) error {
	if err := checkExposure(roster, exposure); err != nil {
		return err
	}
	var pulls []string
	for _, p := range roster.Pulls {
		if p.Exposure != exposure {
			continue
		}
		if p.Pull == pull {
			return nil
		}
		pulls = append(pulls, fmt.Sprint(p.Pull))
	}
	if len(pulls) == 0 {
		return &study.Refusal{Fault: fmt.Sprintf("exposure %s has no pulls", exposure),
			Try: "enrol them first: wane enrol pulls.csv"}
	}
	return &study.Refusal{Fault: fmt.Sprintf("exposure %s has no pull %d", exposure, pull),
		Try: "take one of these: " + strings.Join(pulls, ", ")}
}

func checkExposure(roster *study.Roster, exposure string) error {
	var names []string
	for _, e := range roster.Exposures {
		names = append(names, e.Exposure)
	}
	switch {
	case slices.Contains(names, exposure):
		return nil
	case len(names) == 0:
		return &study.Refusal{Fault: fmt.Sprintf("there is no exposure %q: none is enrolled", exposure),
			Try: "enrol it first: wane enrol exposures.csv"}
	}
	return &study.Refusal{Fault: fmt.Sprintf("there is no exposure %q", exposure),
		Try: study.DidYouMean(exposure, names, "take one of these: "+strings.Join(names, ", "))}
}

// readBefore returns what was read of coupons up to a pull.
func readBefore(v *store.View, coupons []study.Coupon, pull int) (before bench.Before, err error) {
	before.Spots = map[string][]string{}
	last := -1
	for _, c := range coupons {
		err := v.HeadersOf(c.Coupon, func(h store.ReadingHeader) error {
			if h.Standing != study.Counted || h.Quantity != study.Reflectance {
				return nil
			}
			before.Spots[c.Coupon] = append(before.Spots[c.Coupon], h.Spot)
			switch {
			case h.Pull > pull || h.Pull < last:
				return nil
			case h.Pull > last:
				last, before.AnglesDeg = h.Pull, nil
			}
			before.AnglesDeg = append(before.AnglesDeg, h.AngleDeg)
			return nil
		})
		if err != nil {
			return before, err
		}
		slices.Sort(before.Spots[c.Coupon])
		before.Spots[c.Coupon] = slices.Compact(before.Spots[c.Coupon])
		slices.Sort(before.AnglesDeg)
		before.AnglesDeg = slices.Compact(before.AnglesDeg)
	}
	return before, nil
}

// sameSheet refuses a sheet that was drawn otherwise than is stated now.
func sameSheet(s *study.Sheet, opt *SheetOptions) error {
	reading, version := splitVersion(opt.Protocol)
	kept, keptVersion := splitVersion(s.Protocol)
	var fault string
	switch {
	case opt.Seed != 0 && opt.Seed != s.Seed:
		fault = fmt.Sprintf("its seed is %d", s.Seed)
	case opt.Session != "" && opt.Session != s.Session:
		fault = fmt.Sprintf("its session is %s", orNone(s.Session))
	case opt.Condition != "" && opt.Condition != s.Condition:
		fault = fmt.Sprintf("its condition is %s", orNone(s.Condition))
	case opt.AnglesDeg != nil && !slices.Equal(slices.Sorted(slices.Values(opt.AnglesDeg)), s.AnglesDeg):
		fault = "it has other angles"
	case opt.Replicates != 0 && opt.Replicates != s.Replicates:
		fault = fmt.Sprintf("each spot is read %d times on it", s.Replicates)
	case opt.Blind && !s.Blind:
		fault = "it is not blind"
	case opt.Protocol != "" && (reading != kept || version != 0 && version != keptVersion):
		fault = "its protocol of readings is " + s.Protocol
	case opt.Spots != nil && !sameSpots(s, opt.Spots):
		fault = "it has other spots"
	default:
		return nil
	}
	return &study.Refusal{Fault: fmt.Sprintf("a bench sheet of pull %d of exposure %s was drawn already, and %s", s.Pull,
		s.Exposure, fault), Try: "leave out what you state of it, to print it again; or draw another one with --again"}
}

func sameSpots(s *study.Sheet, spots []string) bool {
	return !slices.ContainsFunc(s.Lines, func(l study.SheetLine) bool {
		return l.Kind == study.SheetCoupon && !slices.Equal(l.Spots, spots)
	})
}

func orNone(text string) string {
	if text == "" {
		return "not stated"
	}
	return text
}

// keepReading returns the version of a protocol of readings that the study keeps from now on.
func keepReading(tx *store.Tx, called string) (string, error) {
	if called == "" {
		called = usualReading
	}
	p, code, err := newProtocolKeeper(tx).find(called)
	switch {
	case err != nil:
		return "", err
	case p == nil:
		return "", &study.Refusal{Fault: fmt.Sprintf("there is no protocol %q", called),
			Try: "take one for readings that wane protocol list shows"}
	case p.Kind != protocols.Reading:
		return "", &study.Refusal{Fault: fmt.Sprintf("the protocol %s is for %ss, and not for readings", p.Name, p.Kind),
			Try: "take one for readings that wane protocol list shows"}
	}
	return code, nil
}

// sheetPage adds to a sheet what its page says besides.
func (d *Desk) sheetPage(v *store.View, kept *store.Kept[study.Sheet], roster *study.Roster) (*bench.Sheet, error) {
	s := &bench.Sheet{Sheet: &kept.Row, Study: d.store.Name(), Coupons: map[string]study.Coupon{},
		Settings: map[string][]bench.Setting{}}
	for _, c := range roster.Coupons {
		s.Coupons[c.Coupon] = c
	}
	for _, e := range roster.Exposures {
		if e.Exposure == s.Exposure {
			s.Of = e
		}
	}
	for _, p := range roster.Pulls {
		if p.Exposure == s.Exposure && p.Pull == s.Pull {
			s.At = p
		}
	}
	for i := range roster.Sessions {
		if roster.Sessions[i].Session == s.Session {
			s.Sitting = &roster.Sessions[i]
		}
	}
	for _, c := range roster.Standards {
		set := bench.Setting{AngleDeg: c.AngleDeg, Polarisation: c.Polarisation, Quantity: c.Quantity}
		if !slices.Contains(s.Settings[c.Standard], set) {
			s.Settings[c.Standard] = append(s.Settings[c.Standard], set)
		}
	}
	line, err := v.Line(kept.Line)
	if err != nil {
		return nil, err
	}
	s.Drawn, s.Who = line.At, line.Who
	texts, err := v.Protocols()
	if err == nil {
		s.Reading, err = keptProtocol(texts, s.Protocol)
	}
	if err == nil {
		s.Exposing, err = keptProtocol(texts, exposureProtocol(&s.Of, &s.At))
	}
	s.Notes = sheetNotes(s, roster)
	return s, err
}

// exposureProtocol is the version of the protocol that a pull follows, empty if it follows words only.
func exposureProtocol(e *study.Exposure, p *study.Pull) string {
	if p.KeptProtocol != "" {
		return p.KeptProtocol
	}
	return e.KeptProtocol
}

// keptProtocol reads a protocol that the study keeps, by its code; nil for none.
func keptProtocol(texts []study.Protocol, code string) (*protocols.Protocol, error) {
	for _, t := range texts {
		if code != "" && t.String() == code {
			p, err := protocols.Read([]byte(t.Text))
			return p, protocolRefusals("protocol "+code, err)
		}
	}
	return nil, nil
}

// sheetNotes says what a person should know of a sheet before it is used.
func sheetNotes(s *bench.Sheet, roster *study.Roster) (notes []string) {
	var missing []string
	has := map[study.Role]bool{}
	for _, c := range bench.CouponsAt(roster, s.Exposure, s.Pull) {
		has[c.Role] = true
		on := func(l study.SheetLine) bool { return l.Kind == study.SheetCoupon && l.Code == c.Coupon }
		if !slices.ContainsFunc(s.Lines, on) {
			missing = append(missing, c.Coupon)
		}
	}
	if n := len(missing); n > 0 {
		notes = append(notes, fmt.Sprintf("enrolled since the sheet was drawn, and not on it: %s; --again draws another one",
			joinFirst(missing[:min(n, mostNamedFiles)], n, ", ")))
	}
	if !has[study.Control] {
		notes = append(notes, "no control goes with this exposure: changes cannot be corrected for the instrument")
	}
	if !has[study.Blank] {
		notes = append(notes, "no blank goes with this exposure")
	}
	for _, l := range s.Lines {
		switch {
		case l.Kind == study.SheetTrap && l.Code == "":
			notes = append(notes, "no light trap is registered; the sheet has a line for one all the same")
		case l.Kind == study.SheetCheck && l.Code == "":
			notes = append(notes, "no check standard is registered; the sheet has lines for one all the same")
		}
	}
	var once []string // the lines for a check standard stand before and after those for the trap
	for _, n := range notes {
		if !slices.Contains(once, n) {
			once = append(once, n)
		}
	}
	return once
}
