// Package protocols holds what a laboratory does with coupons, in words that a person follows: how they are
// exposed, and how they are read. [Library] are the protocols that come with the program; [Read] reads one that
// a laboratory has written.
//
// A protocol is a YAML file. All texts have one line. Nothing else may stand in it:
//
//	protocol: my-rack               # its name: small letters, digits and hyphens
//	title: Field rack on the roof
//	kind: exposure                  # exposure, or reading
//	purpose: what it is for
//	basis: the standard that it follows, or common practice, no source
//	dose-unit: days                 # days, hours, cycles or kWh/m2; of exposures only
//	dose: what one unit of the dose is, and what does not count
//	dose-per-day: 24                # optional: the dose of a day without stops; not with days, where it is 1
//	pulls: [0, 30, 90, 180]         # doses in dose-unit; the first is 0, and they rise
//	levels:                         # what is set, with unit and source
//	  - what: tilt
//	    value: 30 ± 2               # 30; 30 ± 2; 20 to 40; at least 20; at most 40
//	    unit: degrees
//	    note: optional
//	    source: common practice, no source
//	steps: [..., ...]               # lists of texts
//	records: [...]                  # what to write down
//	invalid-if: [...]               # what makes a run worth nothing
//	cautions: [...]                 # what can hurt someone
//
// The levels of the library were written from memory of the standards that they name, and each says so. The
// edition of the standard that a laboratory holds counts. A caution does not replace local codes, the safety
// rules of the site and licensed practice: whoever prints a protocol prints [Precedence] with it.
//
// Nothing here knows of studies.
package protocols

import (
	"embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Precedence is the sentence that belongs to the cautions of every protocol.
const Precedence = "Local codes, the safety rules of the site and licensed practice come before this page. " +
	"If one of them forbids a step, do not do it."

// Kind is what a protocol is for.
type Kind string

// The kinds of protocols.
const (
	Exposure Kind = "exposure" // coupons age
	Reading  Kind = "reading"  // coupons are measured
)

// DoseUnits returns the units of doses that a study knows.
func DoseUnits() []string { return []string{"days", "hours", "cycles", "kWh/m2"} }

// Protocol is what a file says.
type Protocol struct {
	Name    string
	Title   string
	Kind    Kind
	Purpose string
	Basis   string // the standard that it follows, or where else it is from

	// Of exposures. The doses of Pulls are in DoseUnit; the first is 0, and they rise. DosePerDay is the
	// dose of a day without stops; 0: it is not known, as it depends on the equipment.
	DoseUnit   string
	Dose       string // what one unit is
	DosePerDay float64
	Pulls      []float64

	Levels                              []Level
	Steps, Records, InvalidIf, Cautions []string

	Text string // the file as it was written
}

// Level is one thing that is set.
type Level struct {
	What   string
	Value  string // a number, "85 ± 2", "20 to 40", "at least 20" or "at most 40"
	Unit   string
	Note   string // or empty
	Source string // a standard with its clause, or where else it is from
}

// Dates returns the day of each pull, ISO 8601, if the exposure begins on the day start and never stops. A pull
// is on the first day on which its dose is complete. Where the dose of a day is not known, the day of pull 0
// only; all others are empty.
func (p *Protocol) Dates(start time.Time) []string {
	dates := make([]string, len(p.Pulls))
	for i, dose := range p.Pulls {
		switch days := math.Ceil(dose / p.DosePerDay); {
		case dose == 0:
			dates[i] = start.Format(time.DateOnly)
		case p.DosePerDay > 0 && days <= mostDays:
			dates[i] = start.AddDate(0, 0, int(days)).Format(time.DateOnly)
		}
	}
	return dates
}

// mostDays bounds the dates that are computed: a century.
const mostDays = 36525

//go:embed library/*.yaml
var libraryFiles embed.FS

// Library returns the protocols that come with the program, in the order of their names.
func Library() []*Protocol {
	files, err := libraryFiles.ReadDir("library")
	if err != nil {
		panic(err) // the folder is compiled in
	}
	all := make([]*Protocol, 0, len(files))
	for _, f := range files {
		text, err := libraryFiles.ReadFile("library/" + f.Name())
		if err != nil {
			panic(err)
		}
		all = append(all, mustRead(f.Name(), text))
	}
	slices.SortFunc(all, func(a, b *Protocol) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// Find returns the protocol of the library with this name, or nil.
func Find(name string) *Protocol {
	text, err := libraryFiles.ReadFile("library/" + name + ".yaml")
	if err != nil {
		return nil // no such file, or no name of one
	}
	return mustRead(name, text)
}

// mustRead reads a protocol of the library.
func mustRead(name string, text []byte) *Protocol {
	p, err := Read(text)
	if err != nil {
		panic(fmt.Sprintf("protocols: %s: %v", name, err)) // the tests read each
	}
	return p
}
