package desk

import (
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"slices"
	"time"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/life"
	"wane/study/store"
)

// Report is what a report says of a study beside what other verbs return: all of one moment, with that moment.
type Report struct {
	Study    string    // the name of its file
	Made     time.Time // UTC
	Software string    // that makes the report
	Writers  []string  // the programs that wrote the study, the first one first
	Last     study.Entry
	Settings study.Settings
	Roster   *study.Roster
	Ended    []study.CouponEvent // with which the histories of coupons ended, in the order of their codes

	Pulls    []CouponPull // in the order of coupon and pull
	Due      FitsDue
	Sessions []SessionCheck
	Traps    []TrapReading

	Judged    []Judged      // readings that are held or were judged, in the order of their numbers
	Deeds     []study.Entry // the lines of the log by which people corrected, moved, judged or decided, the oldest first
	Corrected []Corrected   // by the lines of the log, the oldest first
	Files     []ReportFile  // in the order in which they were taken in

	Groups []ageing.Group // at each pull

	Rules []ReportRule // in the order in which they were added
}

// ReportRule is a rule with the verdicts that were issued by it. What it says now is there if one was, so that a report
// is no further look at the data.
type ReportRule struct {
	RuleState
	Cannot *study.Refusal // why it cannot be said what the rule says now; nil: it can, or no verdict was issued
}

// TrapReading is what a light trap read in a session.
type TrapReading struct {
	study.StandardReading
	Session study.Session
}

// ReportFile is a file whose bytes the study keeps, and the line of the log under which it came.
type ReportFile struct {
	TracedFile
	Line int64
}

// reportedVerbs are those of the lines of the log by which people change what is said of readings and coupons.
var reportedVerbs = []string{"amend", "move", "review", "rule"}

// Report gathers what a report needs, with groups by a grouping. Of a study that misses rows there is none.
func (d *Desk) Report(ctx context.Context, by ageing.By) (*Report, error) {
	if err := d.Complete(ctx); err != nil {
		return nil, err
	}
	r := &Report{Study: d.store.Name(), Made: d.now().UTC(), Software: Software(), Settings: d.Settings()}
	if err := d.Log(ctx, r.addLine); err != nil {
		return nil, err
	}
	status, err := d.Status(ctx, StatusOptions{AsOf: Moment{Line: r.Last.Number, Day: r.Made.Format(time.DateOnly)}})
	if err != nil {
		return nil, err
	}
	r.Pulls, r.Due = status.Rows, status.Overview.Fits
	err = d.view(ctx, r.Last.Number, func(v *store.View) (err error) {
		if r.Roster, err = v.Roster(); err != nil {
			return err
		}
		for _, step := range []func(*store.View) error{r.addSessions, r.addJudged, r.addCorrected, r.addFiles} {
			if err := step(v); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	r.addEnded()
	if r.Groups, err = d.Groups(ctx, by, ResultsOptions{AsOf: r.Last.Number}); err != nil {
		return nil, err
	}
	return r, d.addRules(ctx, r)
}

// addRules adds the rules. Those by which verdicts were issued are judged again, to see whether these still stand.
func (d *Desk) addRules(ctx context.Context, r *Report) error {
	all, err := d.Rules(ctx, RuleOptions{AsOf: r.Last.Number})
	for i := range all {
		of := ReportRule{RuleState: all[i]}
		if len(of.Issued) > 0 {
			now, err := d.Rules(ctx, RuleOptions{Names: []string{of.Name}, Judge: true, AsOf: r.Last.Number})
			switch {
			case err == nil:
				of.RuleState = now[0]
			case !errors.As(err, &of.Cannot):
				return err
			}
		}
		r.Rules = append(r.Rules, of)
	}
	return err
}

// addLine adds a line of the log.
func (r *Report) addLine(e study.Entry) error {
	r.Last = e
	if e.Software != "" && !slices.Contains(r.Writers, e.Software) {
		r.Writers = append(r.Writers, e.Software)
	}
	if slices.Contains(reportedVerbs, e.Verb) {
		r.Deeds = append(r.Deeds, e)
	}
	return nil
}

// addSessions adds the sessions with their verdicts, and what light traps read in them.
func (r *Report) addSessions(v *store.View) (err error) {
	if r.Sessions, err = sessionChecks(v, r.Roster); err != nil {
		return err
	}
	traps := map[string]bool{}
	for i := range r.Roster.Standards {
		if s := &r.Roster.Standards[i]; s.Quantity == evaluate.ZeroQuantity {
			traps[s.Standard] = true
		}
	}
	for i := range r.Sessions {
		s := &r.Sessions[i].Session
		for k := range r.Roster.Checks {
			if c := &r.Roster.Checks[k]; c.Session == s.Session && traps[c.Standard] {
				r.Traps = append(r.Traps, TrapReading{*c, *s})
			}
		}
	}
	return nil
}

// addJudged adds the readings that are held, and those that people judged, however they stand.
func (r *Report) addJudged(v *store.View) error {
	standings, err := v.Standings()
	if err != nil {
		return err
	}
	for number, s := range standings {
		if len(s.Reviews) == 0 && s.Standing == study.Counted {
			continue
		}
		header, _, err := v.ReadingHeader(number)
		if err != nil {
			return err
		}
		if header == nil {
			continue // it was moved: the reading that stands instead of it has its standing
		}
		j, err := loadJudged(v, number, s)
		if err != nil {
			return err
		}
		r.Judged = append(r.Judged, j)
	}
	slices.SortFunc(r.Judged, func(a, b Judged) int { return cmp.Compare(a.Number, b.Number) })
	return nil
}

// addCorrected adds what was amended, withdrawn and moved, by the lines of the log.
func (r *Report) addCorrected(v *store.View) error {
	made, moves := map[int64][]store.Correction{}, map[int64][]store.Move{}
	var lines []int64
	err := v.Corrections(func(k store.Kept[store.Correction]) error {
		made[k.Line], lines = append(made[k.Line], k.Row), append(lines, k.Line)
		return nil
	})
	if err != nil {
		return err
	}
	err = v.Moves(func(m store.Move) error {
		moves[m.Line], lines = append(moves[m.Line], m), append(lines, m.Line)
		return nil
	})
	slices.Sort(lines)
	for _, number := range slices.Compact(lines) {
		if err != nil {
			return err
		}
		c := Corrected{Changes: changesOf(made[number]), Moves: moves[number]}
		c.Line, err = v.Line(number)
		r.Corrected = append(r.Corrected, c)
	}
	return err
}

func (r *Report) addFiles(v *store.View) error {
	files, err := v.Files()
	for _, f := range files {
		r.Files = append(r.Files, ReportFile{TracedFile{f.Row.Name, hex.EncodeToString(f.Row.SHA256[:]), f.Row.Size}, f.Line})
	}
	return err
}

func (r *Report) addEnded() {
	lives := life.New(r.Roster)
	for i := range r.Roster.Coupons {
		if end := lives.Of(r.Roster.Coupons[i].Coupon).End(); end != nil {
			r.Ended = append(r.Ended, *end)
		}
	}
}

// Unchanged refuses a report if the study was written to since it was gathered.
func (d *Desk) Unchanged(ctx context.Context, r *Report) error {
	var last study.Entry
	err := d.Log(ctx, func(e study.Entry) error {
		last = e
		return nil
	})
	if err == nil && last.Hash != r.Last.Hash {
		err = &study.Refusal{File: r.Study, Fault: "the study changed while the report was made", Try: "make the report " +
			"again"}
	}
	return err
}
