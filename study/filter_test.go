package study

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFilterMatches(t *testing.T) {
	row := Row{Coupon: "A01", Spot: "1", Coating: "K", Pull: 2, Sessions: []string{"s1", "s2"},
		Flags: []string{"grew", "at-bound:porosity"}}
	for _, c := range []struct {
		name string
		of   Filter
		want bool
	}{
		{"all", Filter{}, true},
		{"coupon", Filter{Coupons: []string{"A02", "A01"}}, true},
		{"another coupon", Filter{Coupons: []string{"a01"}}, false},
		{"range", Filter{Pulls: Spans{{0, 0}, {2, 5}}}, true},
		{"outside the range", Filter{Pulls: Spans{{0, 1}, {3, 5}}}, false},
		{"one of its sessions", Filter{Sessions: []string{"s2"}}, true},
		{"coating and spot", Filter{Coatings: []string{"K"}, Spots: []string{"1"}}, true},
		{"one of two fields", Filter{Coatings: []string{"K"}, Spots: []string{"2"}}, false},
		{"any flag", Filter{Flagged: true}, true},
		{"a flag", Filter{Flagged: true, Flags: []string{"humid", "grew"}}, true},
		{"a flag of any parameter", Filter{Flagged: true, Flags: []string{"at-bound"}}, true},
		{"a flag of one parameter", Filter{Flagged: true, Flags: []string{"at-bound:bare"}}, false},
		{"part of a word", Filter{Flagged: true, Flags: []string{"gre"}}, false},
	} {
		assert.Equal(t, c.want, c.of.Matches(&row), c.name)
	}
	plain := Row{Coupon: "B01", Pull: -1}
	assert.False(t, (&Filter{Flagged: true}).Matches(&plain))
	assert.False(t, (&Filter{Pulls: Spans{{0, 9}}}).Matches(&plain), "a row of no pull")
	assert.True(t, (&Filter{}).IsZero())
	assert.False(t, (&Filter{Flagged: true}).IsZero())
	assert.Equal(t, "0,2-5", Spans{{0, 0}, {2, 5}}.String())
}

func TestParseSpans(t *testing.T) {
	for text, want := range map[string]Spans{
		"3": {{3, 3}}, "1-4": {{1, 4}}, " 0, 2-4 ": {{0, 0}, {2, 4}}, "2-2": {{2, 2}}, "0-999999": {{0, 999_999}},
	} {
		got, err := ParseSpans(text, 0)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for text, fault := range map[string]string{
		"":                           `"" is not a whole number from 1, nor a range of them`,
		"0":                          `"0" is not a whole number from 1, nor a range of them`,
		"1,-2":                       `"-2" is not a whole number from 1, nor a range of them`,
		"1.5":                        `"1.5" is not a whole number from 1, nor a range of them`,
		"2-":                         `"2-" is not a whole number from 1, nor a range of them`,
		"5-4":                        `the range "5-4" ends before it begins`,
		"1-1000001":                  `the range "1-1000001" has more than 1000000 numbers`,
		"99999999999999999999999999": `"99999999999999999999999999" is not a whole number from 1, nor a range of them`,
	} {
		_, err := ParseSpans(text, 1)
		assert.EqualError(t, err, fault, text)
	}
	assert.Equal(t, []int64{7, 2, 3, 4}, Spans{{7, 7}, {2, 4}}.Numbers())
}

// What kept nothing is named: the fields that no row matches, else all that are set.
func TestSieveSaysWhatThereIs(t *testing.T) {
	rows := []Row{{Coupon: "B02", Pull: 1}, {Coupon: "A01", Pull: 0}, {Coupon: "A01", Pull: 0}}
	sift := func(of Filter) ([]Missed, bool) {
		s := NewSieve(of)
		for _, r := range rows {
			s.Keep(r)
		}
		return s.Missed()
	}
	missed, together := sift(Filter{Coupons: []string{"A02"}, Pulls: Spans{{0, 0}}})
	assert.Equal(t, []Missed{{"coupon", []string{"A02"}, []string{"A01", "B02"}}}, missed)
	assert.False(t, together)
	missed, together = sift(Filter{Coupons: []string{"A01"}, Pulls: Spans{{1, 3}}})
	assert.Equal(t, []Missed{{"coupon", []string{"A01"}, nil}, {"pull", []string{"1-3"}, nil}}, missed)
	assert.True(t, together)
	missed, _ = sift(Filter{Coupons: []string{"A01"}})
	assert.Empty(t, missed)
	missed, _ = sift(Filter{})
	assert.Empty(t, missed)
}
