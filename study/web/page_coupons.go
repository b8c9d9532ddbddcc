package web

import (
	"context"
	"slices"
	"strings"
	"sync"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// couponsPage is the list of coupons, a part of it at a time.
type couponsPage struct {
	Find, Coating, Exposure, State, Attention   string // what is looked for
	Coatings, Exposures, States, AttentionWords []string
	Grid                                        *grid
	All                                         int
	Part                                        part // of those that were found
	Reading                                     bool // results are still being read
}

// couponList is the lines of all coupons, with what can be chosen from.
type couponList struct {
	lines               []shown.CouponLine
	coatings, exposures []string
}

// lastOfAll are the last results of all coupons, by their codes.
type lastOfAll struct {
	results map[string]*shown.LastResults
}

// keptCoupons is the last list that was made.
type keptCoupons struct {
	mu     sync.Mutex
	status *desk.Status
	last   *lastOfAll
	list   *couponList
}

// of returns the list of coupons by what was read of them. last may be nil.
func (k *keptCoupons) of(st *desk.Status, last *lastOfAll) *couponList {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.status != st || k.last != last || k.list == nil {
		k.status, k.last, k.list = st, last, listCoupons(st, last)
	}
	return k.list
}

// coupons is the page of coupons.
func (s *Server) coupons(q *request) (answer, error) {
	st, upTo, err := s.whole.status.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	last, older, notYet := s.whole.last.getSoon(q.Context(), q.head.Number) // nil: the page says so
	all := s.whole.coupons.of(st, last)
	values := q.URL.Query()
	p := &couponsPage{Find: strings.TrimSpace(values.Get("find")), Coating: values.Get("coating"),
		Exposure: values.Get("exposure"),
		State:    values.Get("state"), Attention: values.Get("attention"),
		Coatings: all.coatings, Exposures: all.exposures, All: len(all.lines), Reading: notYet != nil}
	for _, state := range study.States() {
		p.States = append(p.States, string(state))
	}
	for _, w := range desk.AttentionWords() {
		p.AttentionWords = append(p.AttentionWords, strings.TrimSuffix(w.Word, ":"))
	}
	var found []*shown.CouponLine
	for i := range all.lines {
		if p.wants(&all.lines[i]) {
			found = append(found, &all.lines[i])
		}
	}
	p.fill(q, found)
	return &view{Name: "coupons", Title: "Coupons", Topic: "keeping", Nav: couponsAt, Data: p, UpTo: max(upTo, older),
		Rows: rowsFile(shown.Coupons(), found)}, nil
}

// listCoupons makes the lines of all coupons.
func listCoupons(st *desk.Status, last *lastOfAll) *couponList {
	var results map[string]*shown.LastResults
	if last != nil {
		results = last.results
	}
	all := &couponList{lines: shown.CouponLines(st.Rows, results)}
	coatings, exposures := map[string]bool{}, map[string]bool{}
	for i := range all.lines {
		coatings[all.lines[i].Coating], exposures[all.lines[i].Exposure] = true, true
	}
	all.coatings, all.exposures = namesOf(coatings), namesOf(exposures)
	return all
}

// namesOf lists names but the empty one.
func namesOf(set map[string]bool) (names []string) {
	for name := range set {
		if name != "" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// wants reports whether a coupon is one of those that are looked for.
func (p *couponsPage) wants(l *shown.CouponLine) bool {
	return (p.Find == "" || strings.Contains(strings.ToLower(l.Coupon), strings.ToLower(p.Find))) &&
		(p.Coating == "" || l.Coating == p.Coating) && (p.Exposure == "" || l.Exposure == p.Exposure) &&
		(p.State == "" || l.Last != nil && slices.Contains(l.Last.States, study.State(p.State))) &&
		(p.Attention == "" || slices.Contains(l.Attention, p.Attention))
}

// fill shows a part of what was found.
func (p *couponsPage) fill(q *request, found []*shown.CouponLine) {
	p.Part = q.part(len(found), func(part string) string {
		return withQuery(couponsAt, "find", p.Find, "coating", p.Coating, "exposure", p.Exposure, "state", p.State,
			"attention", p.Attention, "part", part)
	})
	p.Grid = gridOf("Coupons", shown.Coupons().Table(), partOf(found, p.Part), func(column string, l *shown.CouponLine) string {
		if column == "coupon" {
			return couponAt(l.Coupon)
		}
		return ""
	})
}

// readLast reads the last results of each coupon.
func (s *Server) readLast(ctx context.Context) (*lastOfAll, error) {
	last := map[string]*shown.LastResults{}
	err := s.desk.Results(ctx, desk.ResultsOptions{}, func(r *study.Result) error {
		if last[r.Coupon] == nil {
			last[r.Coupon] = &shown.LastResults{}
		}
		last[r.Coupon].Add(r)
		return nil
	})
	return &lastOfAll{last}, err
}
