package drawn

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/report"
)

// alone says how the curves of a study were fitted that corrects by sessions.
const alone = "The curves of each spot are fitted by themselves; values of results come from the fits of whole " +
	"sessions."

// Pulls draws all curves of a coupon by pull, in the order of the doses. together: the study fits whole sessions.
// Without any curve it is refused.
func Pulls(coupon string, spots []*desk.SeenSpot, together bool) (*report.Pulls, error) {
	seen, notes, err := onlySeen(coupon, spots)
	if err != nil {
		return nil, err
	}
	f := &report.Pulls{Title: "Coupon " + coupon + ": measured and fitted curves by pull", Caption: notes}
	rows := rowsOf(seen)
	all, names := reads(rows)
	for _, at := range all {
		first := rows[slices.IndexFunc(rows, func(r *study.Result) bool { return readOf(r) == at })]
		f.Pulls = append(f.Pulls, report.PullName{Name: names[at], Dose: doseWords(first)})
	}
	several := len(spotsOf(rows)) > 1
	panels := map[string]int{}
	for _, s := range seen {
		for i := range s.Curves {
			label := curveLabel(s, i)
			if several {
				label = "Spot " + s.Row.Spot + ", " + label
			}
			k, known := panels[label]
			if !known {
				k = len(f.Panels)
				panels[label] = k
				f.Panels = append(f.Panels, report.PullPanel{Label: label})
			}
			f.Panels[k].Curves = append(f.Panels[k].Curves, report.PullCurve{
				Pull: slices.Index(all, readOf(s.Row)), FittedCurve: s.Curves[i]})
		}
	}
	for k := range f.Panels {
		slices.SortStableFunc(f.Panels[k].Curves, func(a, b report.PullCurve) int { return a.Pull - b.Pull })
	}
	if together {
		f.Caption = append(f.Caption, alone)
	}
	return f, nil
}

// curveLabel names the angle of a curve.
func curveLabel(s *desk.SeenSpot, i int) string {
	label := strconv.FormatFloat(math.Round(s.Curves[i].AngleDeg*100)/100, 'f', -1, 64) + "°"
	if p := s.Polarisation[i]; p != "" {
		label += ", " + p
	}
	if s.Curves[i].Through {
		label += ", transmittance"
	}
	return label
}

// onlySeen are the spots with curves, and what is to be said of the others. Where none has curves, the first one's
// reason is the error.
func onlySeen(coupon string, spots []*desk.SeenSpot) (seen []*desk.SeenSpot, notes []string, err error) {
	var without []string
	var why *study.Refusal
	for _, s := range spots {
		if s.Why == nil {
			seen = append(seen, s)
			continue
		}
		if why == nil {
			why = s.Why
		}
		without = append(without, fmt.Sprintf("pull %g, spot %s", s.Row.Pull, s.Row.Spot))
	}
	if len(seen) == 0 && why != nil {
		return nil, nil, nothing(why.Try, "coupon %s has no curve to draw: %s", coupon, why.Fault)
	}
	if len(seen) == 0 {
		return nil, nil, nothing("see what there is: wane results "+coupon,
			"coupon %s has no reading to draw, or none that is asked for", coupon)
	}
	if len(without) > 0 {
		notes = append(notes, "Without curves, since their readings are held, set aside or cannot be fitted: "+
			strings.Join(without, "; ")+".")
	}
	return seen, notes, nil
}

func rowsOf(spots []*desk.SeenSpot) (rows []*study.Result) {
	for _, s := range spots {
		rows = append(rows, s.Row)
	}
	return rows
}

// Fit draws the curves of one pull with their residuals, all of its spots in one figure. together: the study fits
// whole sessions. Without any curve it is refused.
func Fit(coupon string, spots []*desk.SeenSpot, together bool) (*report.Fit, error) {
	seen, notes, err := onlySeen(coupon, spots)
	if err != nil {
		return nil, err
	}
	rows := rowsOf(seen)
	all, names := reads(rows)
	f := &report.Fit{Title: "Coupon " + coupon + ", " + names[all[0]], Caption: notes}
	if len(all) > 1 { // read in several conditions, which the labels have
		f.Title = fmt.Sprintf("Coupon %s, pull %g", coupon, all[0].pull)
	}
	several := len(spotsOf(rows)) > 1
	for _, s := range seen {
		for i := range s.Curves {
			label := s.Polarisation[i]
			if several {
				label = strings.TrimPrefix(label+", spot "+s.Row.Spot, ", ")
			}
			if len(all) > 1 {
				label = strings.TrimPrefix(label+", "+conditionWords(s.Row.Condition), ", ")
			}
			f.Curves, f.Polarisation = append(f.Curves, s.Curves[i]), append(f.Polarisation, label)
		}
	}
	if len(spotsOf(rows)) == 1 {
		f.Title += ", spot " + rows[0].Spot
	}
	if dose := doseWords(rows[0]); dose != "" {
		f.Title += ", " + dose
	}
	if together {
		f.Caption = append(f.Caption, alone)
	}
	return f, nil
}

// Sunlight draws where in the solar spectrum a coupon lost since the baseline of its history: the mean over its spots,
// as measured. keep says which rows are wanted beside the baselines; nil: all. Where no spot has curves at its
// baseline and at a later pull it is refused.
func Sunlight(coupon string, spots []*desk.SeenSpot, keep func(*study.Result) bool, together bool,
) (*report.Sunlight, error) {
	seen, notes, err := onlySeen(coupon, spots)
	if err != nil {
		return nil, err
	}
	f := &report.Sunlight{Title: "Coupon " + coupon + ": where in the solar spectrum its transmittance changed"}
	rows := rowsOf(seen)
	all, names := reads(rows)
	for _, at := range all {
		p := report.SunlightPull{Name: names[at]}
		for _, s := range seen {
			base := baselineOf(s, seen)
			if readOf(s.Row) != at || base == nil || keep != nil && !keep(s.Row) {
				continue
			}
			p.Dose = doseWords(s.Row)
			p.Bands = addBands(p.Bands, base.Sunlight, s.Sunlight)
			p.Spots++
		}
		for k := range p.Bands {
			p.Bands[k].PP /= float64(p.Spots)
		}
		if p.Spots > 0 {
			f.Pulls = append(f.Pulls, p)
		}
	}
	if len(f.Pulls) == 0 {
		return nil, nothing("take in a pull after its baseline, or the baseline, and run wane fit",
			"coupon %s has no spot that was read at its baseline and after it, and so no change", coupon)
	}
	f.Caption = append([]string{"Front surface at normal incidence, AM1.5 global by energy, 300-2500 nm, of the fitted " +
		"film: the mean over the spots, as measured, without the correction by controls or sessions."}, notes...)
	if together {
		f.Caption = append(f.Caption, alone)
	}
	return f, nil
}

// baselineOf is the reading of a spot with which its history begins; nil: there is none, or it is that one.
func baselineOf(s *desk.SeenSpot, all []*desk.SeenSpot) *desk.SeenSpot {
	if !s.Row.BaselinePull.Valid() || s.Row.Pull <= s.Row.BaselinePull {
		return nil
	}
	var found *desk.SeenSpot
	for _, b := range all {
		if b.Row.Spot == s.Row.Spot && b.Row.Pull == s.Row.BaselinePull &&
			(found == nil || b.Row.Condition == s.Row.Condition) {
			found = b
		}
	}
	return found
}

// addBands adds the changes of a spot to a sum; nil is an empty one.
func addBands(sum []report.SunlightChange, before, after []evaluate.SunlightBand) []report.SunlightChange {
	if sum == nil {
		sum = make([]report.SunlightChange, len(after))
	}
	for k, b := range after {
		sum[k] = report.SunlightChange{LoNM: b.LoNM, HiNM: b.HiNM, Share: b.Share, PP: sum[k].PP + 100*(b.T-before[k].T)}
	}
	return sum
}
