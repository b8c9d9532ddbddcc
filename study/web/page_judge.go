package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// judgePage lists the readings that enter no result.
type judgePage struct {
	Readings *grid
	N, More  int
	First    string // the address of the first that is held
}

// mostJudgedShown is how many readings the list of those to be judged shows.
const mostJudgedShown = 200

func (s *Server) judgeList(q *request) (answer, error) {
	all, err := s.desk.Judgements(q.Context(), desk.Everything())
	if err != nil {
		return nil, err
	}
	p := &judgePage{N: len(all), More: max(0, len(all)-mostJudgedShown)}
	if i := slices.IndexFunc(all, func(j desk.Judged) bool { return j.Standing == study.Held }); i >= 0 {
		p.First = judgingAt(all[i].Number)
	}
	columns := shown.Judged().Table()
	p.Readings = gridOf("Readings that enter no result", columns, pointers(all[:len(all)-p.More]),
		func(column string, j *desk.Judged) string {
			switch column {
			case "number":
				return judgingAt(j.Number)
			case "coupon":
				return couponAt(j.Coupon)
			}
			return ""
		})
	return &view{Name: "judge", Title: "Judge readings", Topic: "guards", Nav: judgeAt, Data: p, File: "held",
		Rows: rowsFile(shown.Judged(), pointers(all))}, nil
}

// judgingPage is a reading to be judged.
type judgingPage struct {
	*desk.Judged
	Where         string
	State         string
	Holds         []hold
	Before, After string // addresses of the readings that are held before and after it; empty: none
	Place, Of     int    // which of the held readings it is; 0: it is not held
	OfSpot        string // the held readings of its spot, by number; empty: it is the only one
	SpotN         int
	Figure        figure
	At            string
}

// hold is a hold with what its guard looks for.
type hold struct{ Guard, Reason, Meaning, Limit, Remedy string }

func (s *Server) judging(q *request) (answer, error) {
	number, err := strconv.ParseInt(q.PathValue("reading"), 10, 64)
	if err != nil {
		return nil, absent(&study.Refusal{Fault: "there is no reading " + study.Shown(q.PathValue("reading")),
			Try: "choose one of the list"})
	}
	of := desk.Everything()
	of.Numbers = []int64{number}
	all, err := s.desk.Judgements(q.Context(), of)
	if err != nil {
		return nil, absent(err)
	}
	j := &all[0]
	curves, err := s.alike(q, j)
	if err != nil {
		return nil, err
	}
	v := &view{Name: "judging", Title: fmt.Sprintf("Reading %d", number), Topic: "guards", Nav: judgeAt,
		File: fmt.Sprintf("reading-%d", number), Rows: spectraFile(curves, q.thin())}
	if q.format != "" {
		return v, nil
	}
	p := &judgingPage{Judged: j, Where: shown.PlaceWords(&j.Place), State: j.Standing.Words(), At: judgingAt(number)}
	for _, h := range j.Holds {
		p.Holds = append(p.Holds, holdWords(h))
	}
	p.Figure = figure{Caption: fmt.Sprintf("Reading %d, and the readings of the same spot and setting at other pulls, as they were "+
		"taken in", number), Kind: "curves", X: "wavelength_nm", Y: "value", Data: withQuery(p.At+".json", "thin", "700")}
	v.Data = p
	return v, s.amongHeld(q, p)
}

// holdWords explains a hold.
func holdWords(h study.Hold) hold {
	out := hold{Guard: h.Guard, Reason: h.Reason}
	for _, k := range desk.GuardKinds() {
		if k.Word == h.Guard {
			out.Meaning, out.Limit, out.Remedy = k.Meaning, k.Limit, k.Remedy
		}
	}
	return out
}

// alike are the spectra of a reading, and of its spot in the same setting at other pulls.
func (s *Server) alike(q *request, j *desk.Judged) (of []desk.Spectrum, err error) {
	all, err := s.desk.SpectraOf(q.Context(), j.Coupon)
	for i := range all {
		r := &all[i].Row
		if r.Spot == j.Spot && r.AngleDeg == j.AngleDeg && r.Polarisation == j.Polarisation && r.Quantity == j.Quantity {
			of = append(of, all[i])
		}
	}
	return of, err
}

// amongHeld finds the readings that are held before and after one, and those of its spot.
func (s *Server) amongHeld(q *request, p *judgingPage) error {
	of := desk.Everything()
	of.Held = true
	held, err := s.desk.Judgements(q.Context(), of)
	if err != nil {
		return err
	}
	var spot []int64
	for i := range held {
		h := &held[i]
		switch {
		case h.Number < p.Number:
			p.Before = judgingAt(h.Number)
		case h.Number == p.Number:
			p.Place = i + 1
		case p.After == "":
			p.After = judgingAt(h.Number)
		}
		if h.Coupon == p.Coupon && h.Pull == p.Pull && h.Spot == p.Judged.Spot && h.Condition == p.Condition {
			spot = append(spot, h.Number)
		}
	}
	p.Of = len(held)
	if len(spot) > 1 {
		var words []string
		for _, n := range spot {
			words = append(words, strconv.FormatInt(n, 10))
		}
		p.OfSpot, p.SpotN = strings.Join(words, " "), len(spot)
	}
	return nil
}

// judge releases readings or sets them aside, for a reason. Who comes second is told who judged them before.
func (s *Server) judge(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	of := desk.Everything()
	for _, word := range strings.Fields(q.PostFormValue("readings")) {
		n, err := strconv.ParseInt(word, 10, 64)
		if err != nil {
			return nil, &study.Refusal{Fault: study.Shown(word) + " is no number of a reading", Try: "load the page of the reading again"}
		}
		of.Numbers = append(of.Numbers, n)
	}
	to := study.Counted
	switch act := q.PostFormValue("act"); {
	case len(of.Numbers) == 0:
		return nil, &study.Refusal{Fault: "no reading is chosen", Try: "choose one of the list of readings"}
	case act == "aside":
		to = study.Aside
	case act != "release":
		return nil, &study.Refusal{Fault: "it is not said what to do", Try: "choose Release or Set aside"}
	}
	s.single.Lock()
	defer s.single.Unlock()
	if c, err := s.overtaken(q, of); c != nil || err != nil {
		return c, err
	}
	reviewed, err := d.Review(q.Context(), of, to, q.PostFormValue("why"))
	if err != nil {
		return nil, err
	}
	said := fmt.Sprintf("released: %d", len(reviewed.Changed))
	if to == study.Aside {
		said = fmt.Sprintf("set aside: %d", len(reviewed.Changed))
	}
	next, err := s.nextHeld(q, slices.Max(of.Numbers))
	return &done{To: next, Said: said + "; now fit", Notes: shown.GuardLines(&reviewed.Guards)}, err
}

// overtaken returns who judged readings after the person saw them; nil: nobody did.
func (s *Server) overtaken(q *request, of desk.Selection) (answer, error) {
	now, err := s.desk.Judgements(q.Context(), of)
	if err != nil {
		return nil, err
	}
	c := &conflict{What: "Nothing was judged: somebody judged these readings after you loaded the page", Back: judgingAt(of.Numbers[0])}
	for i := range now {
		for _, r := range now[i].Reviews {
			known := slices.ContainsFunc(c.By, func(e study.Entry) bool { return e.Number == r.Line.Number })
			if r.Line.Number > q.seen() && !known {
				c.By = append(c.By, r.Line)
			}
		}
	}
	if len(c.By) == 0 {
		return nil, nil
	}
	return c, nil
}

// nextHeld returns the address of the next reading that is held, or of the list.
func (s *Server) nextHeld(q *request, after int64) (string, error) {
	of := desk.Everything()
	of.Held = true
	held, err := s.desk.Judgements(q.Context(), of)
	if err != nil {
		return "", err
	}
	for i := range held {
		if held[i].Number > after {
			return judgingAt(held[i].Number), nil
		}
	}
	if len(held) > 0 {
		return judgingAt(held[0].Number), nil
	}
	return judgeAt, nil
}
