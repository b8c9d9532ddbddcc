package study

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Span is a range of whole numbers, both ends in it.
type Span struct{ From, To int64 }

// Spans are ranges of whole numbers; a number is in them if it is in one.
type Spans []Span

// Hold reports whether n is in one of the ranges.
func (s Spans) Hold(n int64) bool {
	return slices.ContainsFunc(s, func(r Span) bool { return r.From <= n && n <= r.To })
}

func (s Spans) String() string {
	words := make([]string, len(s))
	for i, r := range s {
		words[i] = strconv.FormatInt(r.From, 10)
		if r.To != r.From {
			words[i] += "-" + strconv.FormatInt(r.To, 10)
		}
	}
	return strings.Join(words, ",")
}

// mostInSpan is how many numbers a range may hold.
const mostInSpan = 1_000_000

// ParseSpans reads whole numbers of at least least, and ranges of them: 3, 1-4 or 0,2-4.
func ParseSpans(text string, least int64) (spans Spans, err error) {
	for part := range strings.SplitSeq(text, ",") {
		first, last, ranged := strings.Cut(strings.TrimSpace(part), "-")
		from, wrong := strconv.ParseInt(strings.TrimSpace(first), 10, 64)
		to := from
		if ranged && wrong == nil {
			to, wrong = strconv.ParseInt(strings.TrimSpace(last), 10, 64)
		}
		switch {
		case wrong != nil || from < least:
			return nil, fmt.Errorf("%q is not a whole number from %d, nor a range of them", part, least)
		case to < from:
			return nil, fmt.Errorf("the range %q ends before it begins", part)
		case to-from >= mostInSpan:
			return nil, fmt.Errorf("the range %q holds more than %d numbers", part, mostInSpan)
		}
		spans = append(spans, Span{From: from, To: to})
	}
	return spans, nil
}

// Numbers returns all numbers in the ranges, in their order.
func (s Spans) Numbers() (all []int64) {
	for _, r := range s {
		for n := r.From; n <= r.To; n++ {
			all = append(all, n)
		}
	}
	return all
}

// Filter says which rows of a listing are wanted: those that match each field that is set, by
// one of its values. The zero filter wants all.
type Filter struct {
	Coupons, Spots, Coatings, Sessions []string

	Pulls   Spans
	Flagged bool     // rows that carry a flag
	Flags   []string // rows that carry one of these; bound means also bound:NAME
}

// Row is what a filter looks at of a row. A row of no pull has a Pull below 0.
type Row struct {
	Coupon, Spot, Coating string
	Pull                  int64
	Sessions, Flags       []string
}

// RowOf is what a filter looks at of a result.
func RowOf(r *Result) Row {
	row := Row{Coupon: r.Coupon, Spot: r.Spot, Coating: r.Coating, Pull: -1, Flags: r.Flags}
	if r.Pull.Valid() {
		row.Pull = int64(r.Pull)
	}
	if r.Session != "" {
		row.Sessions = []string{r.Session}
	}
	return row
}

// filterField is one field of a filter.
type filterField struct {
	name   string
	wanted func(*Filter) []string      // in words; none: the field is not set
	match  func(*Filter, *Row) bool    // if it is set
	values func(*Row) (words []string) // that a filter could ask for
}

// filterFields are the fields of a filter.
var filterFields = []filterField{
	codeField("coupon", func(f *Filter) []string { return f.Coupons },
		func(r *Row) []string { return []string{r.Coupon} }),
	{
		name:   "pull",
		wanted: func(f *Filter) []string { return strings.Fields(f.Pulls.String()) },
		match:  func(f *Filter, r *Row) bool { return f.Pulls.Hold(r.Pull) },
		values: func(r *Row) []string {
			if r.Pull < 0 {
				return nil
			}
			return []string{strconv.FormatInt(r.Pull, 10)}
		},
	},
	codeField("spot", func(f *Filter) []string { return f.Spots }, func(r *Row) []string { return []string{r.Spot} }),
	codeField("coating", func(f *Filter) []string { return f.Coatings },
		func(r *Row) []string { return []string{r.Coating} }),
	codeField("session", func(f *Filter) []string { return f.Sessions }, func(r *Row) []string { return r.Sessions }),
	{
		name: "flagged",
		wanted: func(f *Filter) []string {
			if f.Flagged && len(f.Flags) == 0 {
				return []string{"any"}
			}
			return f.Flags
		},
		match:  func(f *Filter, r *Row) bool { return slices.ContainsFunc(r.Flags, f.wantsFlag) },
		values: func(r *Row) []string { return r.Flags },
	},
}

// codeField is a field of codes, of which a row has one or several.
func codeField(name string, wanted func(*Filter) []string, values func(*Row) []string) filterField {
	return filterField{
		name: name, wanted: wanted, values: values,
		match: func(f *Filter, r *Row) bool {
			return slices.ContainsFunc(values(r), func(code string) bool { return slices.Contains(wanted(f), code) })
		},
	}
}

func (f *Filter) wantsFlag(flag string) bool {
	if len(f.Flags) == 0 {
		return f.Flagged
	}
	word, _, _ := strings.Cut(flag, ":")
	return slices.Contains(f.Flags, flag) || slices.Contains(f.Flags, word)
}

// IsZero reports whether the filter wants all.
func (f *Filter) IsZero() bool {
	return !slices.ContainsFunc(filterFields, func(field filterField) bool { return len(field.wanted(f)) > 0 })
}

// Matches reports whether a row is wanted.
func (f *Filter) Matches(r *Row) bool {
	for i := range filterFields {
		if field := &filterFields[i]; len(field.wanted(f)) > 0 && !field.match(f, r) {
			return false
		}
	}
	return true
}

// Sieve lets the rows pass that a filter wants, and remembers what there was.
type Sieve struct {
	of    Filter
	seen  int
	kept  int
	match []bool            // by field: a row matched it
	there []map[string]bool // by field: the values of all rows
}

// NewSieve returns a sieve that has seen no row.
func NewSieve(of Filter) *Sieve {
	s := &Sieve{of: of, match: make([]bool, len(filterFields)), there: make([]map[string]bool, len(filterFields))}
	for i := range s.there {
		s.there[i] = map[string]bool{}
	}
	return s
}

// Keep reports whether a row is wanted.
func (s *Sieve) Keep(r Row) bool {
	s.seen++
	for i := range filterFields {
		field := &filterFields[i]
		if len(field.wanted(&s.of)) == 0 {
			continue
		}
		s.match[i] = s.match[i] || field.match(&s.of, &r)
		for _, v := range field.values(&r) {
			if v != "" {
				s.there[i][v] = true
			}
		}
	}
	if s.of.Matches(&r) {
		s.kept++
		return true
	}
	return false
}

// Missed is a field of a filter that kept nothing.
type Missed struct {
	Field  string // coupon, pull, spot, coating, session or flagged
	Wanted []string
	There  []string // what rows have instead, sorted
}

// Missed says why nothing was kept: the fields that no row matches; else, together, all that
// are set, which rows match by themselves only. It is empty if something was kept, there was no
// row, or the filter wants all.
func (s *Sieve) Missed() (missed []Missed, together bool) {
	if s.kept > 0 || s.seen == 0 {
		return nil, false
	}
	var set []Missed
	for i := range filterFields {
		m := Missed{Field: filterFields[i].name, Wanted: filterFields[i].wanted(&s.of)}
		if len(m.Wanted) == 0 {
			continue
		}
		set = append(set, m)
		if !s.match[i] {
			m.There = slices.Sorted(maps.Keys(s.there[i]))
			missed = append(missed, m)
		}
	}
	if len(missed) == 0 {
		return set, len(set) > 0
	}
	return missed, false
}
