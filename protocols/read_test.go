package protocols_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/protocols"
)

// own is a protocol of a laboratory. Made up.
const own = `protocol: rack-2
title: "Second rack: south wall"
kind: exposure
purpose: a test
basis: common practice, no source
dose-unit: hours
dose: an hour
dose-per-day: 12.5
pulls: [0, 250, 1000.5]
levels:
  - what: tilt
    value: 30 +/- 2
    unit: degrees
    source: common practice, no source
  - what: cold
    value: -40 to -10
    unit: °C
    note: at night
    source: our drawing 7
steps:
  - one step
records:
  - a record
invalid-if:
  - it fell
cautions:
  - edges cut,
    so wear gloves
`

func TestReadAProtocol(t *testing.T) {
	p, err := protocols.Read([]byte(own))
	require.NoError(t, err)
	assert.Equal(t, &protocols.Protocol{Name: "rack-2", Title: "Second rack: south wall", Kind: protocols.Exposure,
		Purpose: "a test", Basis: "common practice, no source",
		DoseUnit: "hours", Dose: "an hour", DosePerDay: 12.5, Pulls: []float64{0, 250, 1000.5},
		Levels: []protocols.Level{
			{What: "tilt", Value: "30 +/- 2", Unit: "degrees", Source: "common practice, no source"},
			{What: "cold", Value: "-40 to -10", Unit: "°C", Note: "at night", Source: "our drawing 7"}},
		Steps: []string{"one step"}, Records: []string{"a record"}, InvalidIf: []string{"it fell"},
		Cautions: []string{"edges cut, so wear gloves"}, Text: own}, p)
}

// Each fault is found where it stands. Lines were counted by hand, but where the text is no YAML: those are the
// parser's, which gives one nearby or none.
func TestFaultsOfAProtocol(t *testing.T) {
	for _, c := range []struct {
		name, old, now string
		line           int
		fault          string
	}{
		{"an unknown name", "title:", "colour: red\ntitle:", 2, `a protocol has no "colour"`},
		{"a name twice", "dose: an hour", "dose: an hour\ndose: a day", 8, "dose stands in line 7 already"},
		{"a name in other letters", "title:", "Title:", 2, `a protocol has no "Title"`},
		{"a missing name", "purpose: a test\n", "", 1, "a protocol has no purpose"},
		{"no name of its own", "rack-2", "Rack 2", 1, `"Rack 2" is not a name of a protocol`},
		{"a version in the name", "rack-2", "rack@2", 1, `"rack@2" is not a name of a protocol`},
		{"an unknown kind", "kind: exposure", "kind: storage", 3, `there is no kind "storage"`},
		{"an unknown dose unit", "dose-unit: hours", "dose-unit: weeks", 6, `there is no dose unit "weeks"`},
		{"a dose unit in other letters", "dose-unit: hours", "dose-unit: Hours", 6, `there is no dose unit "Hours"`},
		{"no dose unit", "dose-unit: hours\n", "", 1, "a protocol has no dose-unit"},
		{"a dose unit with nothing behind it", "dose-unit: hours", "dose-unit:", 6, "dose-unit is empty"},
		{"a dose of a day in days", "dose-unit: hours", "dose-unit: days", 8, "a dose in days grows by 1 in a day"},
		{"a dose of a day of 0", "12.5", "0", 8, "dose-per-day must be above 0, not 0"},
		{"a dose that is no number", "250", "250 h", 9, `the dose of pull 1 is not a number: "250 h"`},
		{"a dose below 0", "250", "-250", 9, `the dose of pull 1 is not a number: "-250"`},
		{"a dose beyond all numbers", "250", strings.Repeat("9", 400), 9, "the dose of pull 1 is not a number"},
		{"a word of YAML as a dose", "250", ".inf", 9, `the dose of pull 1 is not a number: ".inf"`},
		{"doses that do not rise", "250", "1000.5", 9, "the dose 1000.5 of pull 2 is not above the 1000.5 of pull 1"},
		{"a comma within a number", "1000.5", "1,000", 9, "the dose 1 of pull 2 is not above the 250 of pull 1"},
		{"a first dose that is not 0", "[0, ", "[1, ", 9, "the dose of pull 0 is 1, not 0"},
		{"no list of doses", "[0, 250, 1000.5]", "250", 9, "pulls must be a list of at least two doses"},
		{"one dose only", "[0, 250, 1000.5]", "[0]", 9, "pulls must be a list of at least two doses"},
		{"a missing unit", "    unit: degrees\n", "", 11, "a level has no unit"},
		{"an empty unit", "unit: degrees", `unit: ""`, 13, "unit is empty"},
		{"a unit within the value", "value: 30 +/- 2", "value: 30°", 12, `"30°" is not a value of a level`},
		{"a value in words", "value: 30 +/- 2", "value: steep", 12, `"steep" is not a value of a level`},
		{"a value that falls", "-40 to -10", "-10 to -40", 16, `"-10 to -40" does not rise`},
		{"a level without a source", "    source: our drawing 7\n", "", 15, "a level has no source"},
		{"an unknown name in a level", "note: at night", "remark: at night", 18, `a level has no "remark"`},
		{"a level that is a text",
			"  - what: cold\n    value: -40 to -10\n    unit: °C\n    note: at night\n    source: our drawing 7\n",
			"  - cold\n", 15, "a level is not a list of names with values"},
		{"no cautions", "cautions:\n  - edges cut,\n    so wear gloves\n", "", 1, "a protocol has no cautions"},
		{"an empty list", "records:\n  - a record\n", "records: []\n", 22, "records must be a list"},
		{"a text in place of a list", "records:\n  - a record\n", "records: a record\n", 22, "records must be a list"},
		{"an empty line of a list", "  - a record\n", "  -\n", 23, "a line of records is empty"},
		{"a colon that makes a mapping", "  - a record\n", "  - note: the day\n", 23, "a line of records is not a text"},
		{"several lines", "purpose: a test", "purpose: |\n  a\n  b", 4, "purpose has several lines or a tab"},
		{"a truth value", "purpose: a test", "purpose: yes", 4, ""},
		{"a word of YAML", "purpose: a test", "purpose: true", 4, "purpose: true is a word of YAML"},
		{"an anchor", "title: ", "title: &a ", 2, "anchors and aliases have no meaning here"},
		{"an alias", "a record\n", "*a\n", 0, "this is not YAML: unknown anchor"},
		{"a tag", "purpose: a", "purpose: !!str a", 4, `tags such as "!!str" have no meaning here`},
		{"a second document", "cautions:", "---\ncautions:", 26, "a second document begins here"},
		{"no YAML", "kind: exposure", "kind: [", 2, "this is not YAML: "},
		{"too large", "a test", strings.Repeat("x", 300<<10), 0, "the protocol has more than 256 KiB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, own, c.old)
			_, err := protocols.Read([]byte(strings.Replace(own, c.old, c.now, 1)))
			if c.fault == "" {
				require.NoError(t, err)
				return
			}
			var faults protocols.Faults
			require.True(t, errors.As(err, &faults), "%v", err)
			i := slices.IndexFunc(faults, func(f protocols.Fault) bool { return strings.Contains(f.What, c.fault) })
			require.GreaterOrEqual(t, i, 0, "%v", faults)
			assert.Equal(t, c.line, faults[i].Line)
			assert.NotEmpty(t, faults[i].Try)
		})
	}
}

func TestAllFaultsAreListed(t *testing.T) {
	text := strings.NewReplacer("dose-unit: hours", "dose-unit: weeks", "250", "2000", "    unit: °C\n", "",
		"title:", "name:").Replace(own)
	_, err := protocols.Read([]byte(text))
	assert.EqualError(t, err, `line 1: a protocol has no title; line 2: a protocol has no "name"; `+
		`line 6: there is no dose unit "weeks"; line 9: the dose 1000.5 of pull 2 is not above the 2000 of pull 1; `+
		"line 15: a level has no unit")
}

func TestEmptyProtocols(t *testing.T) {
	for _, text := range []string{"", "# nothing\n", "\n\n"} {
		_, err := protocols.Read([]byte(text))
		assert.EqualError(t, err, "line 1: the protocol is empty")
	}
	for _, text := range []string{"- a\n", "text\n", "1\n"} {
		_, err := protocols.Read([]byte(text))
		assert.EqualError(t, err, "line 1: a protocol is not a list of names with values")
	}
}

// What a protocol of reading has no use for is refused.
func TestAReadingHasNoDoses(t *testing.T) {
	_, err := protocols.Read([]byte(strings.Replace(own, "kind: exposure", "kind: reading", 1)))
	assert.EqualError(t, err, "line 6: a protocol of kind reading has no dose-unit; line 7: a protocol of kind reading has no "+
		"dose; line 8: a protocol of kind reading has no dose-per-day; line 9: a protocol of kind reading has no pulls")
}

// Whatever the text, it is read or its faults have lines of it; nothing else happens.
func FuzzRead(f *testing.F) {
	files, err := filepath.Glob("library/*.yaml")
	require.NoError(f, err)
	require.NotEmpty(f, files)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add([]byte(own))
	f.Add([]byte("a: &a [*a]\n"))
	f.Add([]byte("? {a: b}\n: c\n"))
	f.Add([]byte("protocol: !!binary aGk=\n<<: {title: x}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := protocols.Read(text)
		if err == nil {
			assert.Equal(t, string(text), p.Text)
			assert.NotEmpty(t, p.Cautions)
			assert.True(t, p.Kind == protocols.Reading || slices.IsSorted(p.Pulls) && len(p.Pulls) > 1)
			return
		}
		var faults protocols.Faults
		require.True(t, errors.As(err, &faults), "%v", err)
		for _, fault := range faults {
			assert.True(t, fault.Line >= 0 && fault.Line <= strings.Count(string(text), "\n")+2, "%v", fault)
			assert.NotEmpty(t, fault.Try)
		}
	})
}
