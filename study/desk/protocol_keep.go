package desk

import (
	"fmt"
	"strings"

	"wane/protocols"
	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// protocolKeeper finds the versions of protocols that exposures and pulls remember when they are enrolled.
type protocolKeeper struct {
	tx    *store.Tx
	known map[string]*protocols.Protocol // by the words of exposures; nil: they name none
	code  map[string]string              // the same with its version, as damp-heat@1
	added int                            // protocols of the library that the study keeps from now on
}

func newProtocolKeeper(tx *store.Tx) *protocolKeeper {
	return &protocolKeeper{tx: tx, known: map[string]*protocols.Protocol{}, code: map[string]string{}}
}

// exposures lets the exposures that are not enrolled yet remember the versions of their protocols.
func (k *protocolKeeper) exposures(enrolled *study.Roster, lines []sheet.Line[study.Exposure]) error {
	there := map[string]bool{}
	for _, e := range enrolled.Exposures {
		there[e.Exposure] = true
	}
	for i := range lines {
		l := &lines[i]
		if there[l.Row.Exposure] {
			continue
		}
		var err error
		if l.Row.KeptProtocol, err = k.keep(&l.Row); err != nil {
			return withPlace(*l, err)
		}
	}
	return nil
}

// pulls lets the pulls that are not enrolled yet remember the versions of the protocols of their exposures, which are.
// Where an exposure has only words, so has the pull.
func (k *protocolKeeper) pulls(enrolled *study.Roster, lines []sheet.Line[study.Pull]) error {
	type pull struct {
		exposure string
		number   int
	}
	there, of := map[pull]bool{}, map[string]*study.Exposure{}
	for _, p := range enrolled.Pulls {
		there[pull{p.Exposure, p.Pull}] = true
	}
	for i := range enrolled.Exposures {
		of[enrolled.Exposures[i].Exposure] = &enrolled.Exposures[i]
	}
	for i := range lines {
		l := &lines[i]
		e := of[l.Row.Exposure]
		if e == nil || e.KeptProtocol == "" || there[pull{l.Row.Exposure, l.Row.Pull}] {
			continue
		}
		var err error
		if l.Row.KeptProtocol, err = k.keep(e); err != nil {
			return withPlace(*l, err)
		}
	}
	return nil
}

// keep returns the version of the protocol that an exposure names, which the study keeps from now on. It is empty if
// the words of the exposure name none. A protocol that cannot be one of the exposure is refused.
func (k *protocolKeeper) keep(e *study.Exposure) (code string, err error) {
	p, found := k.known[e.Protocol]
	if !found {
		if p, code, err = k.find(e.Protocol); err != nil {
			return "", err
		}
		k.known[e.Protocol], k.code[e.Protocol] = p, code
	}
	switch {
	case p == nil:
		return "", nil
	case p.Kind != protocols.Exposure:
		return "", &study.Refusal{
			Fault: fmt.Sprintf("exposure %s: the protocol %s is for %ss, and not for exposures", e.Exposure, p.Name, p.Kind),
			Try:   "name one for exposures, as wane protocol list shows them",
		}
	case p.DoseUnit != e.DoseUnit:
		return "", &study.Refusal{
			Fault: fmt.Sprintf("exposure %s: its dose is in %s, and that of the protocol %s in %s", e.Exposure, e.DoseUnit,
				p.Name, p.DoseUnit),
			Try: fmt.Sprintf("write %s, or give a protocol that counts in %s a name of its own and add it: "+
				"wane protocol add FILE.yaml", p.DoseUnit, e.DoseUnit),
		}
	}
	return k.code[e.Protocol], nil
}

// find returns the protocol that words name, nil for none, and its version in the study. One of the library goes into
// the study.
func (k *protocolKeeper) find(words string) (*protocols.Protocol, string, error) {
	name, version := splitVersion(words)
	latest, err := k.tx.Protocol(name, 0)
	if err != nil {
		return nil, "", err
	}
	if library := protocols.Find(name); latest == nil && library != nil {
		if _, _, err := k.tx.AddProtocol(name, library.Text); err != nil {
			return nil, "", err
		}
		latest = &study.Protocol{Name: name, Version: 1, Text: library.Text}
		k.added++
	}
	kept := latest
	if latest != nil && version > 0 {
		if kept, err = k.tx.Protocol(name, version); err != nil {
			return nil, "", err
		}
	}
	switch {
	case latest == nil:
		return nil, "", nil
	case kept == nil:
		return nil, "", &study.Refusal{Fault: fmt.Sprintf("the study keeps no version %d of the protocol %s", version, name),
			Try: fmt.Sprintf("write %s alone for its latest version, which is %d", name, latest.Version)}
	}
	p, err := protocols.Read([]byte(kept.Text))
	return p, kept.String(), protocolRefusals("protocol "+kept.String(), err)
}

// notesOfProtocols says which exposures have words that are nearly the name of a protocol of the library.
func notesOfProtocols(roster *sheet.Roster) (notes []string) {
	for _, l := range roster.Exposures {
		words := l.Row.Protocol
		name := strings.ToLower(strings.Join(strings.FieldsFunc(words,
			func(c rune) bool { return strings.ContainsRune(" _-", c) }), "-"))
		if l.Row.KeptProtocol == "" && name != words && protocols.Find(name) != nil {
			notes = append(notes, fmt.Sprintf("%s:%d: the protocol %q is kept as words; the name of the one that is known is %s",
				study.Shown(l.File), l.Number, words, name))
		}
	}
	return notes
}
