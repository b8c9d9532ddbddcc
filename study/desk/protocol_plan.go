package desk

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"wane/protocols"
	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// PlannedExposures are what a new study plans by protocols: exposures, with their pulls.
type PlannedExposures struct {
	planned []plannedExposure
	roster  *sheet.Roster
}

// plannedExposure is an exposure whose pulls follow from a protocol.
type plannedExposure struct {
	exposure string
	protocol *protocols.Protocol
	own      bool // it is in a file, and not in the library
}

// PlanExposures reads what a person plans: names of protocols of the library, or files with protocols, each with the
// code of its exposure before it if that is not the name, as roof=field-rack. start is the first day, ISO 8601; empty:
// no dates are planned. site is that of all exposures, and may be empty.
func PlanExposures(words []string, start, site string) (*PlannedExposures, error) {
	var day time.Time
	if start != "" {
		var err error
		if day, err = time.Parse(time.DateOnly, start); err != nil {
			return nil, usagef("write it as 2031-05-12", "--start: %q is no day", start)
		}
	}
	if fault, try := study.CheckCode(site); fault != "" {
		return nil, usagef(try, "--site: %s", fault)
	}
	plan := &PlannedExposures{roster: &sheet.Roster{}}
	for _, word := range words {
		planned, err := planExposure(word)
		if err != nil {
			return nil, err
		}
		if err := plan.fits(planned); err != nil {
			return nil, err
		}
		plan.planned = append(plan.planned, *planned)
		plan.add(planned, day, site)
	}
	return plan, nil
}

// planExposure reads NAME, FILE.yaml or CODE= before one of them.
func planExposure(word string) (planned *plannedExposure, err error) {
	code, called, named := strings.Cut(word, "=")
	if !named {
		code, called = "", word
	}
	planned = &plannedExposure{exposure: strings.TrimSpace(code)}
	if called = strings.TrimSpace(called); called == "" || named && planned.exposure == "" {
		return nil, usagef("write NAME, or CODE=NAME to call the exposure otherwise: --protocol roof=field-rack,damp-heat",
			"--protocol: %q names no protocol and exposure", word)
	}
	if planned.own = IsProfilePath(called); planned.own {
		planned.protocol, err = ReadProtocol(called)
	} else {
		planned.protocol, err = libraryProtocol(called)
	}
	if err != nil {
		return nil, err
	}
	p := planned.protocol
	if library := protocols.Find(p.Name); library != nil {
		var r *study.Refusal
		if err := sameDoses(library, p); errors.As(err, &r) {
			return nil, r.At(called, 1)
		}
	}
	if p.Kind != protocols.Exposure {
		return nil, usagef("name one for exposures, as wane protocol list shows them",
			"the protocol %s is for %ss: it has no pulls to plan", p.Name, p.Kind)
	}
	if !named {
		planned.exposure = p.Name
	}
	if fault, try := study.CheckCode(planned.exposure); fault != "" {
		return nil, usagef(try, "the code of an exposure: %s", fault)
	}
	return planned, nil
}

// fits refuses an exposure that cannot be planned beside the others.
func (p *PlannedExposures) fits(now *plannedExposure) error {
	for _, o := range p.planned {
		switch {
		case o.exposure == now.exposure:
			return usagef("give each a code of its own: --protocol roof=field-rack,wall=field-rack",
				"two exposures would have the code %s", now.exposure)
		case o.protocol.Name == now.protocol.Name && o.protocol.Text != now.protocol.Text:
			return usagef("rename the protocol in one of the files", "two different protocols have the name %s",
				now.protocol.Name)
		}
	}
	return nil
}

// add adds the rows of an exposure; day is the zero time if no dates are planned.
func (p *PlannedExposures) add(planned *plannedExposure, day time.Time, site string) {
	of := planned.protocol
	e := study.Exposure{Exposure: planned.exposure, Protocol: of.Name, Site: site, DoseUnit: of.DoseUnit}
	dates := make([]string, len(of.Pulls))
	if !day.IsZero() {
		dates = of.Dates(day)
		e.Start = dates[0]
	}
	p.roster.Exposures = append(p.roster.Exposures, sheet.Line[study.Exposure]{Row: e})
	for i, dose := range of.Pulls {
		pull := study.Pull{Exposure: e.Exposure, Pull: i, Dose: dose, Date: dates[i]}
		p.roster.Pulls = append(p.roster.Pulls, sheet.Line[study.Pull]{Row: pull})
	}
}

// Lines says what is planned, a line for each exposure.
func (p *PlannedExposures) Lines() (lines []string) {
	pulls := p.roster.Pulls
	for _, planned := range p.planned {
		of := planned.protocol
		doses := make([]string, len(of.Pulls))
		for i, dose := range of.Pulls {
			doses[i] = fmt.Sprintf("%g", dose)
		}
		line := fmt.Sprintf("planned exposure %s by protocol %s: pulls 0 to %d at %s %s", planned.exposure, of.Name,
			len(doses)-1, strings.Join(doses, ", "), of.DoseUnit)
		first, last := pulls[0].Row.Date, pulls[len(doses)-1].Row.Date
		switch pulls = pulls[len(doses):]; {
		case last != "":
			line += ", from " + first + " to " + last + " if it never stops"
		case first != "":
			line += ", from " + first + "; later dates depend on the equipment"
		}
		lines = append(lines, line)
	}
	return lines
}

// libraryProtocol returns the protocol of the library that a person names.
func libraryProtocol(called string) (*protocols.Protocol, error) {
	if p := protocols.Find(called); p != nil {
		return p, nil
	}
	var names []string
	for _, p := range protocols.Library() {
		names = append(names, p.Name)
	}
	return nil, usagef(study.DidYouMean(called, names,
		"take one that wane protocol list shows, or a file of your own: --protocol my-rack.yaml"),
		"the library has no protocol %q", called)
}

// enrol enrols the planned exposures with their pulls, and says so in words that may be empty. The study keeps their
// protocols.
func (p *PlannedExposures) enrol(tx *store.Tx) (words string, err error) {
	if len(p.planned) == 0 {
		return "", nil
	}
	var n Enrolled
	for _, planned := range p.planned {
		if !planned.own {
			continue
		}
		kept, err := addProtocol(tx, planned.protocol)
		if err != nil {
			return "", err
		}
		n.Protocols += asCount(kept.Added)
	}
	faults := &enrolFaults{roster: p.roster}
	err = addRoster(tx, faults, nil, nil, &n)
	if err == nil {
		err = faults.err(nil)
	}
	if err != nil {
		return "", err
	}
	return ", with " + n.String() + ", as planned", nil
}
