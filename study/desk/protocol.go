package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/protocols"
	"wane/study"
	"wane/study/intake/source"
	"wane/study/store"
)

// KnownProtocol is a protocol of the library, or a version of one that the study keeps.
type KnownProtocol struct {
	*protocols.Protocol
	Version    int // in the study, from 1; 0: it is in the library only
	FollowedBy []Follower
}

// Code names the protocol with its version, if it has one, as damp-heat@1.
func (p *KnownProtocol) Code() string {
	if p.Version == 0 {
		return p.Name
	}
	return study.Protocol{Name: p.Name, Version: p.Version}.String()
}

// Follower is an exposure of the study that follows a version of a protocol.
type Follower struct {
	Exposure string
	Pulls    []int // those that were enrolled under this version, rising; there may be none yet
}

// LibraryProtocols returns the protocols that come with the program.
func LibraryProtocols() []KnownProtocol {
	library := protocols.Library()
	all := make([]KnownProtocol, len(library))
	for i, p := range library {
		all[i].Protocol = p
	}
	return all
}

// Protocols returns the protocols of the library and all versions of those that the study keeps, in the order of name
// and version. One of the library that the study keeps with the same text is there once.
func (d *Desk) Protocols(ctx context.Context) (all []KnownProtocol, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		kept, err := v.Protocols()
		if err != nil {
			return err
		}
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		all, err = knownProtocols(kept, roster)
		return err
	})
	return all, err
}

func knownProtocols(kept []study.Protocol, roster *study.Roster) (all []KnownProtocol, err error) {
	for _, k := range kept {
		p, err := protocols.Read([]byte(k.Text))
		if err != nil {
			return nil, protocolRefusals("protocol "+k.String(), err)
		}
		all = append(all, KnownProtocol{p, k.Version, followersOf(k.String(), roster)})
	}
	for _, p := range LibraryProtocols() {
		same := func(k study.Protocol) bool { return k.Name == p.Name && k.Text == p.Text }
		if !slices.ContainsFunc(kept, same) {
			all = append(all, p)
		}
	}
	slices.SortStableFunc(all, func(a, b KnownProtocol) int { return strings.Compare(a.Name, b.Name) })
	return all, nil
}

// followersOf returns the exposures that remember a version of a protocol, or have pulls that do.
func followersOf(code string, roster *study.Roster) (all []Follower) {
	pulls := map[string][]int{}
	for _, p := range roster.Pulls {
		if p.KeptProtocol == code {
			pulls[p.Exposure] = append(pulls[p.Exposure], p.Pull)
		}
	}
	for _, e := range roster.Exposures {
		if e.KeptProtocol == code || len(pulls[e.Exposure]) > 0 {
			all = append(all, Follower{e.Exposure, pulls[e.Exposure]})
		}
	}
	return all
}

// FindProtocol returns the one of all that a person calls by its name or by its name and version, as damp-heat@1. By
// the name alone it is the latest version of the study, else that of the library. Another name is refused.
func FindProtocol(all []KnownProtocol, called string) (*KnownProtocol, error) {
	name, version := splitVersion(called)
	var found *KnownProtocol
	var names, codes []string
	for i := range all {
		p := &all[i]
		names = append(names, p.Name)
		if p.Name != name {
			continue
		}
		codes = append(codes, p.Code())
		if version == p.Version && version > 0 || version == 0 && (found == nil || p.Version > found.Version) {
			found = p
		}
	}
	switch {
	case found != nil:
		return found, nil
	case len(codes) > 0:
		return nil, &study.Refusal{Fault: fmt.Sprintf("the protocol %s has no version %d here", name, version),
			Try: "take one of these: " + strings.Join(codes, ", ")}
	}
	return nil, &study.Refusal{Fault: fmt.Sprintf("there is no protocol %q", called),
		Try: study.DidYouMean(name, names, "take one that wane protocol list shows")}
}

// splitVersion takes a name apart, as damp-heat@1; without a version that can be one, it is 0.
func splitVersion(called string) (name string, version int) {
	name, number, _ := strings.Cut(called, "@")
	version, err := strconv.Atoi(number)
	if err != nil || version < 1 || strconv.Itoa(version) != number {
		return called, 0
	}
	return name, version
}

// ReadProtocol reads the protocol in a file. Everything that is wrong with it is refused at once.
func ReadProtocol(path string) (*protocols.Protocol, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if err := checkLines(path, string(data)); err != nil {
		return nil, err
	}
	p, err := protocols.Read(data)
	return p, protocolRefusals(path, err)
}

// checkLines refuses characters that hide something, in any line of a text.
func checkLines(path, text string) error {
	var all study.Refusals
	number := 0
	for line := range strings.Lines(strings.TrimPrefix(text, "\ufeff")) {
		number++
		line = strings.ReplaceAll(strings.TrimRight(line, "\r\n"), "\t", " ")
		if fault, try := study.CheckWords(line); fault != "" {
			all = append(all, &study.Refusal{File: path, Line: number, Fault: fault, Try: try})
		}
	}
	if len(all) == 0 {
		return nil
	}
	return all
}

// protocolRefusals gives the faults of a protocol, a rule or a plan their file.
func protocolRefusals(file string, err error) error {
	var faults protocols.Faults
	if !errors.As(err, &faults) {
		return err
	}
	all := make(study.Refusals, len(faults))
	for i, f := range faults {
		all[i] = &study.Refusal{File: file, Line: f.Line, Fault: f.What, Try: f.Try}
	}
	return all
}

// AddProtocols puts the protocols in files into the study, all or none. One whose text differs from the latest version
// of its name is a new version.
func (d *Desk) AddProtocols(ctx context.Context, paths []string) (kept []KeptProtocol, err error) {
	read := make([]*protocols.Protocol, len(paths))
	var wrong study.Refusals
	for i, path := range paths {
		var faults study.Refusals
		if read[i], err = ReadProtocol(path); errors.As(err, &faults) {
			wrong = append(wrong, faults...)
		} else if err != nil {
			return nil, err
		}
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	entry := d.entry("protocol", "")
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		kept = nil
		var words []string
		for i, p := range read {
			k, err := addProtocol(tx, p)
			var r *study.Refusal
			if errors.As(err, &r) && r.File == "" {
				return r.At(paths[i], 1)
			}
			if err != nil {
				return err
			}
			kept = append(kept, k)
			if k.Added {
				words = append(words, fmt.Sprintf("version %d of protocol %s", k.Version, k.Name))
			}
		}
		entry.Summary = "kept " + strings.Join(words, ", ")
		return nil
	})
	if err != nil {
		return nil, err
	}
	return kept, nil
}

// KeptProtocol is a protocol that was put into the study.
type KeptProtocol struct {
	study.Protocol
	Added bool // it is a new version
}

// addProtocol adds a protocol. Where the library has one of this name and the study none yet, that is version 1, so
// that a laboratory's own is not mistaken for it.
func addProtocol(tx *store.Tx, p *protocols.Protocol) (kept KeptProtocol, err error) {
	kept.Protocol = study.Protocol{Name: p.Name, Text: p.Text}
	there, err := tx.Protocol(p.Name, 0)
	if err != nil {
		return kept, err
	}
	before := protocols.Find(p.Name)
	switch {
	case there != nil:
		before, err = protocols.Read([]byte(there.Text))
		err = protocolRefusals("protocol "+there.String(), err)
	case before != nil && before.Text != p.Text:
		_, _, err = tx.AddProtocol(p.Name, before.Text)
	}
	if err == nil && before != nil {
		err = sameDoses(before, p)
	}
	if err != nil {
		return kept, err
	}
	kept.Version, kept.Added, err = tx.AddProtocol(p.Name, p.Text)
	return kept, err
}

// sameDoses refuses a new version of a protocol that is for something else, or counts in another unit: exposures that
// are enrolled follow its name.
func sameDoses(before, now *protocols.Protocol) error {
	const try = "give it a name of its own in the first line"
	switch {
	case before.Kind != now.Kind:
		return &study.Refusal{Fault: fmt.Sprintf("the protocol %s is for %ss already, and here it is for %ss", now.Name,
			before.Kind, now.Kind), Try: try}
	case before.DoseUnit != now.DoseUnit:
		return &study.Refusal{Fault: fmt.Sprintf("the protocol %s counts in %s already, and here in %s", now.Name,
			before.DoseUnit, now.DoseUnit), Try: try}
	}
	return nil
}
