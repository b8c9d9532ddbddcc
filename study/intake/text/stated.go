package text

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// Stated is what a person states about exports, on the command line or in a
// map: the answers to what a file leaves open. An empty field is not stated.
// [Stated.Answers] lists the fields with their names and words.
type Stated struct {
	Unit           string // of the values: fraction or percent
	WavelengthUnit string // nm, um or cm-1
	Quantity       string // R, or T for transmittance

	Sheet     string // of a workbook
	Decimal   string // mark in numbers: point or comma
	Thousands string // mark between groups of three digits: point, comma or space
	Block     string // which block of rows is read, counting from 1
	Layout    string // how the spectra stand: columns, or rows below the wavelengths
	Axis      string // column of the wavelengths, counting from 1
	Columns   string // columns that are curves: 2,4 or 6-36
	GroupBy   string // columns of a long form that distinguish its curves: 1,2
	Overlap   string // of two detectors: first or average
	// ignore: the numbers are right, whatever the header declares of points, ends, step, maximum or a factor; or lines
	// that say nothing right: 3,7
	Declared   string
	Filler     string // runs of zeros or of equal values: missing or keep
	RelativeTo string // absolute, or the reference that the values are relative to
	Range      string // wavelengths read, in nm: LO-HI

	InMap bool // stated in a map, which messages then speak of
}

// Answer is one field of [Stated].
type Answer struct {
	Name  string   // of the flag and of the line in a profile
	Words []string // that it may be, or none if it is not one of a few
	Usage string   // what it states
	To    *string  // the field
}

// Answers lists all that can be stated, in the order in which a file is read.
func (s *Stated) Answers() []Answer {
	return []Answer{
		{"unit", []string{"fraction", "percent"}, "unit of the values: fraction or percent", &s.Unit},
		{"wavelength-unit", []string{"nm", "um", "cm-1"}, "unit of the wavelengths: nm, um or cm-1", &s.WavelengthUnit},
		{"quantity", []string{"R", "T"}, "what the values are: R (reflectance) or T (transmittance of the pane)",
			&s.Quantity},
		{"sheet", nil, "the sheet of a workbook (.xlsx)", &s.Sheet},
		{"decimal", []string{"point", "comma"}, "decimal mark in the rows: point or comma", &s.Decimal},
		{"thousands", []string{"point", "comma", "space"}, "mark between thousands in the rows: point, comma or space",
			&s.Thousands},
		{"block", nil, "which block of rows to read where a file contains several, from 1", &s.Block},
		{"layout", []string{InColumns, InRows}, "how the spectra stand: in columns, or in rows below a line of wavelengths",
			&s.Layout},
		{"axis", nil, "number of the column of wavelengths, from 1", &s.Axis},
		{"columns", nil, "numbers of the columns that are curves, such as 2,4 or 6-36", &s.Columns},
		{"group-by", nil, "numbers of the columns that distinguish curves where each row is one point, such as 1,2 or 1-3",
			&s.GroupBy},
		{"overlap", []string{"first", "average"}, "where two detectors overlap: keep the first one's points, or the average",
			&s.Overlap},
		{"declared", nil, "ignore: what the header declares of points, ends, step, maximum or a factor; or numbers of " +
			"lines that say nothing right of the values, such as 3,7", &s.Declared},
		{"filler", []string{"missing", "keep"}, "runs of zeros or of equal values: missing points, or values to keep",
			&s.Filler},
		{"relative-to", nil, "what the values are relative to: absolute, or the name of the reference", &s.RelativeTo},
		{"range", nil, "wavelengths to read, in nm: LO-HI; points outside are skipped", &s.Range},
	}
}

// Set states one more thing, by its name.
func (s *Stated) Set(name, value string) error {
	for _, a := range s.Answers() {
		if a.Name == name {
			*a.To = value
			return s.check(&Understood{})
		}
	}
	return fmt.Errorf("nothing is stated by the name %q", name)
}

// ParseStated reads what was stated from words such as "unit percent, range 400-1100", in
// which a study keeps it: names and values of [Stated.Answers], in their order.
func ParseStated(text string) (s Stated, err error) {
	var to *string
	answers := s.Answers()
	for _, part := range strings.Split(text, ", ") {
		name, value, _ := strings.Cut(part, " ")
		i := slices.IndexFunc(answers, func(a Answer) bool { return a.Name == name })
		switch {
		case i >= 0:
			to, answers = answers[i].To, answers[i+1:]
			*to = value
		case to != nil:
			*to += ", " + part // of a value that has one
		case part != "":
			return s, fmt.Errorf("nothing is stated by the name %q", name)
		}
	}
	return s, nil
}

// MaxColumns is how many columns one file may have, and how many numbers of columns may be
// stated. Common practice, no source.
const MaxColumns = 10_000

// How the spectra of a file stand, as a person states it.
const (
	InColumns = "columns"
	InRows    = "rows"
)

// MostNM is the longest wavelength that is read: beyond 100 µm no spectrometer of the kind
// works. Common practice, no source.
const MostNM = 100_000

// OverlapChoices settle what to do where two detectors overlap.
var OverlapChoices = []study.Choice{
	{Name: "overlap", Value: "first",
		Meaning: "where two detectors overlap, keep the points of the one that stands first in the file"},
	{Name: "overlap", Value: "average",
		Meaning: "keep the wavelengths of the first and average its values with the other's, interpolated linearly"},
}

// DeclaredChoices settle a check that fails, but not one that says where the
// points are: NPOINTS, FIRSTX and LASTX of equal steps, and the checks in the rows.
var DeclaredChoices = []study.Choice{{Name: "declared", Value: "ignore",
	Meaning: "the numbers are right as they stand"}}

// Check says whether every word that is stated is one. An error is a
// [*study.Refusal].
func (s Stated) Check() error {
	_, err := (&Asker{Stated: s}).Understand()
	return err
}

// Understand reads what is stated. An error is a [*study.Refusal].
func (a *Asker) Understand() (want Understood, err error) {
	if a.Stated == (Stated{}) {
		return want, nil
	}
	err = a.Stated.check(&want)
	var wrong *WrongAnswer
	if errors.As(err, &wrong) {
		return want, a.Refuse(Nowhere, wrong.Try, "%v", wrong)
	}
	return want, err
}

// Understood is what is stated in numbers, understood.
type Understood struct {
	Block, Axis      int
	Columns, GroupBy []int
	Declared         []int // lines that are overruled
	IgnoreDeclared   bool
	LoNM, HiNM       float64 // 0, 0 if no range is stated
}

// WrongAnswer is a statement that cannot be meant.
type WrongAnswer struct{ name, value, Try, why string }

func (w *WrongAnswer) Error() string {
	said := fmt.Sprintf("--%s is stated as %s", w.name, Quoted(w.value))
	if w.why != "" {
		said += ": " + w.why
	}
	return said
}

// check understands the statements into to.
func (s *Stated) check(to *Understood) error {
	for _, a := range s.Answers() {
		v := *a.To
		if v == "" {
			continue
		}
		ok, why := true, ""
		wrong := func(try string) error { return &WrongAnswer{a.Name, v, "state --" + a.Name + " " + try, why} }
		switch {
		case a.Words != nil && !slices.Contains(a.Words, v):
			return wrong(Joined(a.Words, "or"))
		case a.Name == "block":
			to.Block, ok = ordinal(v)
		case a.Name == "axis":
			to.Axis, ok = ordinal(v)
		case a.Name == "columns":
			to.Columns, why = ordinals(v)
		case a.Name == "declared":
			if to.IgnoreDeclared, to.Declared, why = declaredOrLines(v); why != "" {
				return wrong("as ignore, as numbers of lines such as 3,7, or as both: ignore,3")
			}
		case a.Name == "group-by":
			to.GroupBy, why = ordinals(v)
		case a.Name == "range":
			if to.LoNM, to.HiNM, ok = rangeOf(v); !ok {
				return wrong("as the shortest and the longest wavelength in nm, for example 400-1100")
			}
		}
		if !ok || why != "" {
			return wrong("as a number counting from 1, or numbers such as 2,4 or 6-36 where several can be meant")
		}
	}
	if s.Thousands != "" && s.Thousands == s.Decimal {
		return &WrongAnswer{"thousands", s.Thousands, "state --thousands and --decimal differently", ""}
	}
	return nil
}

// declaredOrLines reads what is stated of the header: ignore, numbers of lines, or both.
func declaredOrLines(text string) (ignore bool, lines []int, why string) {
	var numbers []string
	for _, word := range strings.Split(text, ",") {
		if strings.TrimSpace(word) == "ignore" && !ignore {
			ignore = true
			continue
		}
		numbers = append(numbers, word)
	}
	if numbers == nil {
		return ignore, nil, ""
	}
	lines, why = ordinals(strings.Join(numbers, ","))
	return ignore, lines, why
}

// ordinal reads a number counting from 1.
func ordinal(text string) (int, bool) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	return n, err == nil && n >= 1
}

// ordinals reads numbers counting from 1, each once, and ranges of them: 2,6-36. Of others
// it says why they are none.
func ordinals(text string) (all []int, why string) {
	seen := map[int]bool{}
	for _, word := range strings.Split(text, ",") {
		word = strings.TrimSpace(word)
		low, high, isRange := strings.Cut(word, "-")
		if !isRange {
			high = low
		}
		first, err := strconv.Atoi(strings.TrimSpace(low))
		last, fault := strconv.Atoi(strings.TrimSpace(high))
		switch {
		case err != nil || fault != nil:
			return nil, Quoted(word) + " is neither a number nor a range"
		case first < 1 || last < 1:
			return nil, "numbers count from 1"
		case isRange && last == first:
			return nil, fmt.Sprintf("%s is a range of one number, state %d", Quoted(word), first)
		case last < first:
			return nil, fmt.Sprintf("the range %s must rise, state %d-%d", Quoted(word), last, first)
		case last-first >= MaxColumns || len(all)+last-first >= MaxColumns:
			return nil, fmt.Sprintf("these are more than %s numbers", Figure(MaxColumns))
		}
		for n := first; n <= last; n++ {
			if seen[n] {
				return nil, fmt.Sprintf("%d is there twice", n)
			}
			seen[n] = true
			all = append(all, n)
		}
	}
	return all, ""
}

// rangeOf reads two wavelengths in nm, LO-HI, above 0 and rising.
func rangeOf(text string) (lo, hi float64, ok bool) {
	low, high, ok := strings.Cut(text, "-")
	if !ok {
		return 0, 0, false
	}
	lo, err := strconv.ParseFloat(strings.TrimSpace(low), 64)
	hi, fault := strconv.ParseFloat(strings.TrimSpace(high), 64)
	return lo, hi, err == nil && fault == nil && 0 < lo && lo < hi && hi <= MostNM
}
