package placing

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

// Profile says once what holds for many exports of one kind: the answers to what they
// leave open, and where their curves belong. It is made by [ReadProfile].
type Profile struct {
	Name string // in the study
	Text string // as it was written

	file   string // the name under which it was read, for messages
	files  *pathPattern
	at     int // the line of the pattern
	header []headerRule
	stated text.Stated
	curves []curveRule
}

// ReadProfile reads a profile, which is written in YAML 1.2; file is used in messages.
// Every error is a [*study.Refusal].
//
//	profile: bench-1
//	files: "{coupon}-pull{pull}-{spot}.csv"
//	header:
//	  - "Angle of incidence: {angle} deg"
//	stated:
//	  unit: percent
//	curves:
//	  - column: "{angle} deg"
//	    coupon: "{coupon}"
//	    pull: "{pull}"
//	    spot: "{spot}"
//	    angle: "{angle}"
//	    polarisation: u
//
// files, header, stated and curves may be left out. In files * stands for any text without a
// slash, and in column and in lines of the header for any text; {name} is such a text, not
// empty, that the fields of a curve may use, and {name:number} digits, without zeros in front.
func ReadProfile(file string, data []byte) (*Profile, error) {
	d, err := openDocument(file, data)
	if err != nil {
		return nil, err
	}
	p := &Profile{Text: string(data), file: file}
	if err := p.read(d); err != nil {
		return nil, err
	}
	return p, nil
}

func (p *Profile) read(d *document) error {
	top, err := d.fields(d.root, "a profile", "profile", "files", "header", "stated", "curves")
	if err != nil {
		return err
	}
	if p.Name, err = d.needed(top, d.root.Line, "profile"); err != nil {
		return err
	}
	if n := top["files"]; n != nil {
		text, err := d.needed(top, n.Line, "files")
		if err != nil {
			return err
		}
		pattern, err := parsePathPattern(text)
		if err != nil {
			return d.refuseFor(n.Line, tryFiles, "files", err)
		}
		p.files, p.at = &pattern, n.Line
	}
	if err := p.readHeader(d, top["header"]); err != nil {
		return err
	}
	if err := p.readStated(d, top["stated"]); err != nil {
		return err
	}
	return p.readCurves(d, top["curves"])
}

const (
	tryFiles  = `write it as "{coupon}-pull{pull}-*.csv", with text between the gaps`
	tryColumn = `write it as "{angle} deg", with text between the gaps, or name the column by its number, such as "#2"`
)

// Stated returns the answers that the profile gives.
func (p *Profile) Stated() text.Stated { return p.stated }

// Answer returns what is given for a file together with what the profile states, if the
// profile is for it. The two may not contradict one another; the error is a
// [*study.Refusal].
func (p *Profile) Answer(path string, given text.Stated) (text.Stated, error) {
	if !p.Matches(path) {
		return given, nil
	}
	own := p.stated
	answers := own.Answers()
	for i, a := range given.Answers() {
		said := *answers[i].To
		if *a.To != "" && said != "" && *a.To != said {
			return given, &study.Refusal{File: path,
				Fault: fmt.Sprintf("--%s %s contradicts profile %s, which states %s", a.Name, *a.To, p.Name, said),
				Try:   "leave the flag out, or correct the profile"}
		}
		if said != "" {
			*a.To = said
		}
	}
	return given, nil
}

// Matches reports whether the profile is for a file of that path.
func (p *Profile) Matches(path string) bool {
	ok, _ := p.matchPath(path, map[string]string{}) // what is ambiguous matches
	return ok
}

// Places reports whether the profile says where curves belong; otherwise it only
// answers.
func (p *Profile) Places() bool { return len(p.curves) > 0 }

// matchPath reports whether the profile is for a path, and adds what its pattern catches.
func (p *Profile) matchPath(path string, into map[string]string) (ok bool, err error) {
	if p.files == nil {
		return true, nil
	}
	return p.files.match(filepath.ToSlash(path), into)
}

// linesFor returns the curves of the profile for a file of that path.
func (p *Profile) linesFor(path string) ([]sheet.Line[Placing], error) {
	caught := map[string]string{}
	ok, err := p.matchPath(path, caught)
	if !ok {
		return nil, nil
	}
	if err != nil {
		return nil, &study.Refusal{File: p.file, Line: p.at, Fault: "files", Cause: err,
			Try: "put text into the pattern that the parts of a name cannot contain, or place this file by a map"}
	}
	var lines []sheet.Line[Placing]
	for i := range p.curves {
		rule := &ruleFor{curve: &p.curves[i], header: p.header, path: path, caught: caught}
		l, err := rule.line()
		if err != nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	return lines, nil
}

// readStated reads the answers.
func (p *Profile) readStated(d *document, n *node) error {
	if n == nil || d.isNull(n) {
		return nil // all lines below it may be comments
	}
	var names []string
	for _, a := range p.stated.Answers() {
		names = append(names, a.Name)
	}
	said, err := d.fields(n, "stated", names...)
	if err != nil {
		return err
	}
	for _, name := range names {
		if said[name] == nil {
			continue
		}
		value, err := d.needed(said, 0, name)
		if err != nil {
			return err
		}
		err = p.stated.Set(name, value)
		var wrong *text.WrongAnswer
		if errors.As(err, &wrong) {
			return d.refuse(said[name].Line, strings.ReplaceAll(wrong.Try, "--", ""), "%s",
				strings.TrimPrefix(wrong.Error(), "--"))
		}
		if err != nil {
			return d.refuse(said[name].Line, "correct it", "%v", err)
		}
	}
	return nil
}

// WithAnswers writes a profile that only answers, for files of that pattern or, if it
// is empty, for all. [ReadProfile] reads it back to the same.
func WithAnswers(name, files string, s text.Stated) string {
	var b strings.Builder
	fmt.Fprintf(&b, "profile: %s\n", yamlText(name))
	if files != "" {
		fmt.Fprintf(&b, "files: %s\n", yamlText(files))
	}
	b.WriteString("stated:\n")
	for _, a := range s.Answers() {
		if *a.To != "" {
			fmt.Fprintf(&b, "  %s: %s\n", a.Name, yamlText(*a.To))
		}
	}
	return b.String()
}
