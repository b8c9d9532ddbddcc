package web

import (
	"context"
	"errors"
	"slices"
	"sync"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/difference"
	"wane/study/drawn"
	"wane/study/report"
	"wane/study/shown"
)

// coatingsPage is what the page of coatings shows, of one exposure.
type coatingsPage struct {
	Groups    *grid
	Part      part // of the groups
	Picture   picture
	Image     *image // the figure, where it is too large for the page
	Exposure  string
	Exposures []string
}

// Figures that a page does not hold but fetches: mostLines is how many coupons a figure in a page has as lines of their
// own, largePicture how many bytes it may have.
const (
	mostLines    = 200
	largePicture = 100_000
)

// readGroups gathers the results of all coatings.
func (s *Server) readGroups(ctx context.Context) ([]ageing.Group, error) {
	return s.desk.Groups(ctx, ageing.ByCoating, desk.ResultsOptions{})
}

// coatings is the page of coatings in an exposure, the first one where none is chosen.
func (s *Server) coatings(q *request) (answer, error) {
	all, upTo, err := s.whole.groups.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	p := &coatingsPage{Exposure: q.URL.Query().Get("exposure")}
	for i := range all {
		p.Exposures = addOnce(p.Exposures, all[i].Exposure)
	}
	if p.Exposure == "" && len(p.Exposures) > 0 {
		p.Exposure = p.Exposures[0]
	}
	groups := slices.DeleteFunc(slices.Clone(all), func(g ageing.Group) bool { return g.Exposure != p.Exposure })
	columns := shown.Groups(ageing.ByCoating)
	p.Part = q.part(len(groups), func(part string) string {
		return withQuery(coatingsAt, "exposure", p.Exposure, "part", part)
	})
	p.Groups = gridOf("Exposed coupons of each coating at each pull; a coupon counts once", columns.Table(),
		partOf(pointers(groups), p.Part), groupState)
	v := &view{Name: "coatings", Title: "Coatings", Topic: "changes", Nav: coatingsAt, Data: p, UpTo: upTo,
		Rows: rowsFile(columns, pointers(groups))}
	curves := ageing.Curves(groups)
	if len(curves) == 0 {
		return v, nil // there is nothing to draw yet
	}
	f := drawn.Changes(ageing.ByCoating, s.desk.Settings().Correction, curves, groups)
	if f.Stamp, err = s.desk.Stamp(q.Context(), upTo); err != nil {
		return nil, err
	}
	v.Figure = f.Write
	switch {
	case q.format != "":
	case countLines(curves) > mostLines:
		p.Image = imageOf(coatingsAt, "Change of solar transmittance by coating in "+p.Exposure+": the table below has its numbers",
			"exposure", p.Exposure)
	default:
		p.Picture, err = pictureOf(q.Context(), f)
	}
	return v, err
}

// countLines counts the coupons that curves are made of.
func countLines(curves []ageing.Curve) (n int) {
	for _, c := range curves {
		most := 0
		for i := range c.Points {
			most = max(most, len(c.Points[i].Coupon))
		}
		n += most
	}
	return n
}

// groupState leads from a coating to its coupons.
func groupState(column string, g *ageing.Group) string {
	if column == "coating" {
		return withQuery(couponsAt, "coating", g.Group)
	}
	return ""
}

// comparison is the comparison of coatings in an exposure.
type comparison struct {
	of      *difference.Comparison // nil: refused
	refused *study.Refusal
	figure  *report.Differences
	picture picture
}

// comparePage is what the page of a comparison shows.
type comparePage struct {
	Exposure        string
	Exposures       []string
	Refused         *study.Refusal
	Head            string
	Verdicts, Notes []string
	Pairs, Groups   *grid
	Part            part // of the pairs
	Picture         picture
	Image           *image // the figure, where it is too large for the page
}

// keptComparisons are the comparisons that were asked for, by exposure.
type keptComparisons struct {
	mu sync.Mutex
	of map[string]*kept[*comparison]
}

// in returns what is kept of an exposure that is enrolled.
func (k *keptComparisons) in(s *Server, exposure string) *kept[*comparison] {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.of[exposure] == nil {
		k.of[exposure] = keepLarge(s, func(ctx context.Context) (*comparison, error) {
			return s.readComparison(ctx,
				exposure)
		})
	}
	return k.of[exposure]
}

// readComparison compares the coatings in an exposure.
func (s *Server) readComparison(ctx context.Context, exposure string) (*comparison, error) {
	out := &comparison{}
	found, err := s.desk.Compare(ctx, desk.CompareOptions{Options: difference.Options{Exposure: exposure}})
	if errors.As(err, &out.refused) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	out.of = found[0]
	out.figure = drawn.Differences(out.of)
	if out.figure.Stamp, err = s.desk.Stamp(ctx, 0); err != nil {
		return nil, err
	}
	out.picture, err = pictureOf(ctx, out.figure)
	return out, err
}

// compare is the page of the comparison of coatings in an exposure, the first one where none is chosen.
func (s *Server) compare(q *request) (answer, error) {
	codes, err := s.desk.Codes(q.Context())
	if err != nil {
		return nil, err
	}
	p := &comparePage{Exposure: q.URL.Query().Get("exposure"), Exposures: codes.Exposures}
	if p.Exposure == "" && len(p.Exposures) > 0 {
		p.Exposure = p.Exposures[0]
	}
	v := &view{Name: "compare", Title: "Comparison of coatings", Topic: "comparing", Nav: coatingsAt, Data: p}
	switch {
	case len(p.Exposures) == 0:
		p.Refused = &study.Refusal{Fault: "no exposure is enrolled yet", Try: "enrol one: wane enrol exposures.csv"}
		return v, nil
	case !slices.Contains(p.Exposures, p.Exposure):
		return nil, absent(&study.Refusal{Fault: "exposure " + study.Shown(p.Exposure) + " is not enrolled",
			Try: study.DidYouMean(p.Exposure, p.Exposures, "choose one of the list")})
	}
	of, upTo, err := s.whole.comparisons.in(s, p.Exposure).get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	if v.UpTo = upTo; of.of == nil {
		p.Refused = of.refused
		return v, nil
	}
	p.fill(q, v, of)
	return v, nil
}

// fill shows a comparison.
func (p *comparePage) fill(q *request, v *view, of *comparison) {
	rows := make([]shown.Compared, len(of.of.Pairs))
	for i := range rows {
		rows[i] = shown.Compared{Of: of.of, Pair: &of.of.Pairs[i]}
	}
	groups := shown.ComparedGroups(of.of)
	p.Head, p.Verdicts, p.Notes = shown.CompareHead(of.of), shown.VerdictLines(of.of), shown.CompareRemarks(of.of)
	p.Part = q.part(len(rows), func(part string) string {
		return withQuery(compareAt, "exposure", p.Exposure, "part", part)
	})
	p.Pairs = gridOf("Pairs of coatings", shown.Compare().Table(), partOf(rows, p.Part), nil)
	p.Groups = gridOf("Coatings that are compared", groups, pointers(of.of.Groups), nil)
	if p.Picture = of.picture; len(of.picture.Wide) > largePicture {
		p.Picture = picture{}
		p.Image = imageOf(compareAt, "Differences of coatings in "+p.Exposure+": the table below has their numbers",
			"exposure", p.Exposure)
	}
	v.Rows, v.Figure = rowsFile(shown.Compare(), rows), of.figure.Write
}
