package study

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Span is a range of whole numbers, both ends included.
type Span struct{ From, To int64 }

// Spans are ranges of whole numbers; a number is in them if it is in one.
type Spans []Span

// Contain reports whether n is in one of the ranges.
func (s Spans) Contain(n int64) bool {
	return slices.ContainsFunc(s, func(r Span) bool { return r.From <= n && n <= r.To })
}

// String writes the ranges as [ParseSpans] reads them.
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

// maxInSpan is the largest number of numbers in a range.
const maxInSpan = 1_000_000

// ParseSpans reads whole numbers and ranges of them, such as 3, 1-4 or 0,2-4. A number below
// least, a range that ends before it begins or holds more than 1,000,000 numbers, and any
// other text give an error.
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
		case to-from >= maxInSpan:
			return nil, fmt.Errorf("the range %q has more than %d numbers", part, maxInSpan)
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

// Filter selects rows of a listing. A row is wanted if it matches each field that is set, by one
// of the values of the field. The zero filter wants all rows.
type Filter struct {
	Coupons, Spots, Coatings, Sessions []string

	Pulls   Spans
	Flagged bool     // rows with a flag other than FlagDosePlanned
	Flags   []string // rows with one of these flags; WORD means also WORD:NAME
}

// Row holds the fields of a row that a filter compares. A row without a pull has a Pull below 0.
type Row struct {
	Coupon, Spot, Coating string
	Pull                  int64
	Sessions, Flags       []string
}

// RowOf returns the row of a result.
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
	wanted func(*Filter) []string      // the wanted values in words; none if the field is not set
	match  func(*Filter, *Row) bool    // whether a row matches, if the field is set
	values func(*Row) (words []string) // the values of a row
}

// filterFields are the fields of a filter.
var filterFields = []filterField{
	codeField("coupon", func(f *Filter) []string { return f.Coupons },
		func(r *Row) []string { return []string{r.Coupon} }),
	{
		name:   "pull",
		wanted: func(f *Filter) []string { return strings.Fields(f.Pulls.String()) },
		match:  func(f *Filter, r *Row) bool { return f.Pulls.Contain(r.Pull) },
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

// codeField returns a field of codes. A row has one or several codes.
func codeField(name string, wanted func(*Filter) []string, values func(*Row) []string) filterField {
	return filterField{
		name: name, wanted: wanted, values: values,
		match: func(f *Filter, r *Row) bool {
			return slices.ContainsFunc(values(r), func(code string) bool { return slices.Contains(wanted(f), code) })
		},
	}
}

// wantsFlag reports whether the filter wants rows with the flag.
func (f *Filter) wantsFlag(flag string) bool {
	if len(f.Flags) == 0 {
		return f.Flagged && flag != FlagDosePlanned
	}
	word, _, _ := strings.Cut(flag, ":")
	return slices.Contains(f.Flags, flag) || slices.Contains(f.Flags, word)
}

// IsZero reports whether the filter wants all rows.
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

// Sieve applies a filter to rows, and records the values of all rows for a message if the filter
// keeps none.
type Sieve struct {
	of    Filter
	seen  int               // number of rows
	kept  int               // number of wanted rows
	match []bool            // by field: whether a row matched it
	there []map[string]bool // by field: the values of all rows
}

// NewSieve returns a sieve for a filter, before the first row.
func NewSieve(of Filter) *Sieve {
	s := &Sieve{of: of, match: make([]bool, len(filterFields)), there: make([]map[string]bool, len(filterFields))}
	for i := range s.there {
		s.there[i] = map[string]bool{}
	}
	return s
}

// Keep reports whether a row is wanted, and records it.
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

// Missed is a field of a filter that kept no row.
type Missed struct {
	Field  string // coupon, pull, spot, coating, session or flagged
	Wanted []string
	There  []string // the values of the rows, sorted
}

// Missed returns the fields because of which no row was kept: those that no row matches. If rows
// match each field but none matches all, together is true, and missed holds all fields that are
// set. It is empty if a row was kept, if there was no row, or if the filter wants all rows.
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
