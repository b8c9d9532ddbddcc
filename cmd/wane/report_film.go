package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study/cause"
	"wane/study/desk"
	"wane/study/report/document"
)

// filmCount counts what happened to the films of a coating in an exposure by a pull.
type filmCount struct {
	coating, exposure    string
	pull, spots, notTold int
	found, alike         map[string]int
}

var filmCountColumns = listing[*filmCount]{
	valueColumn("coating", func(c *filmCount) any { return orEmpty(c.coating) }),
	valueColumn("exposure", func(c *filmCount) any { return orEmpty(c.exposure) }),
	valueColumn("pull", func(c *filmCount) any { return c.pull }),
	valueColumn("spots", func(c *filmCount) any { return c.spots }),
	valueColumn("found", func(c *filmCount) any { return orEmpty(countedNames(c.found)) }),
	valueColumn("looks_alike", func(c *filmCount) any { return orEmpty(countedNames(c.alike)) }),
	valueColumn("cannot_be_told", func(c *filmCount) any { return c.notTold }),
}

// countedNames are words with how often each came: 12 lost, 3 thinned.
func countedNames(counts map[string]int) string {
	var parts []string
	for _, word := range slices.Sorted(maps.Keys(counts)) {
		parts = append(parts, fmt.Sprintf("%d %s", counts[word], word))
	}
	return strings.Join(parts, ", ")
}

// countFilms counts what happened, in the order of coating, exposure and pull.
func countFilms(rows []*desk.FilmChange) (counts []*filmCount) {
	type place struct {
		coating, exposure string
		pull              int
	}
	known := map[place]*filmCount{}
	for _, r := range rows {
		at := place{r.Row.Coating, r.Row.Exposure, int(r.Row.Pull)}
		c := known[at]
		if c == nil {
			c = &filmCount{coating: at.coating, exposure: at.exposure, pull: at.pull, found: map[string]int{},
				alike: map[string]int{}}
			known[at], counts = c, append(counts, c)
		}
		c.spots++
		if len(r.Explained.Why) > 0 {
			c.notTold++
		}
		for _, word := range r.Explained.Findings {
			c.found[word]++
		}
		for _, word := range r.Explained.LookAlikes {
			c.alike[word]++
		}
	}
	slices.SortFunc(counts, func(a, b *filmCount) int {
		return cmp.Or(strings.Compare(a.coating, b.coating), strings.Compare(a.exposure, b.exposure), a.pull-b.pull)
	})
	return counts
}

// filmsPart says what happened to the films.
func filmsPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "films", Title: "What happened to the films"}
	var rows []*desk.FilmChange
	err := w.d.FilmChanges(w.ctx, nil, w.of.Last.Number, func(c *desk.FilmChange) error {
		rows = append(rows, c)
		return nil
	})
	if err != nil {
		block, err := cannot("What happened to the films cannot be told from these data", err)
		p.Blocks = append(p.Blocks, block)
		return p, err
	}
	if len(rows) == 0 {
		p.Blocks = append(p.Blocks, document.Notice("What happened to the films cannot be told from these data, because no "+
			"film has a "+
			"reading after its baseline. Next: take one in and run wane fit."))
		return p, nil
	}
	p.Blocks = append(p.Blocks, document.Text("Of how many spots of exposed coupons the readings say what happened to "+
		"the film since "+
		"its baseline, and of how many they cannot, because one of both films is not determined by its readings. The file "+
		"divides "+
		"the change of solar transmittance of each spot among bare glass, thickness, porosity and structure; these parts "+
		"add to it "+
		"exactly (wane help film-history)."))
	counts, err := tableOf("films", "Spots by what happened to their film", filmCountColumns, filmCountColumns,
		countFilms(rows))
	if err != nil {
		return p, err
	}
	spots, err := tableOf("film-history", count(len(rows),
		"row")+" of spots at their pulls, with the parts of each change:", nil,
		filmColumns(), rows)
	p.Blocks = append(p.Blocks, counts, spots)
	var said []string
	for _, term := range append(cause.Findings(), cause.LookAlikes()...) {
		if slices.ContainsFunc(rows, func(r *desk.FilmChange) bool {
			return slices.Contains(r.Explained.Findings, term.Word) || slices.Contains(r.Explained.LookAlikes, term.Word)
		}) {
			said = append(said, fmt.Sprintf("%s: %s (%s)", term.Word, term.Meaning, term.Limit))
		}
	}
	if len(said) > 0 {
		p.Blocks = append(p.Blocks, document.List(said))
	}
	return p, err
}
