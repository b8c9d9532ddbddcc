package desk

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/intake/workbook"
	"wane/study/store"
)

// placement says where curves belong and what is stated of their exports: a map, a profile, or both.
type placement struct {
	name    string           // the path of the map, else the name of the profile
	rules   []*placing.Rules // the map's before the profile's: the first that has lines for a file counts
	stated  text.Stated      // of all exports
	profile *placing.Profile // nil: none
	version int              // of the profile; 0: it is from a file
	changed string           // a note on a profile that the study keeps otherwise; empty: none
}

// placement opens the map and the profile.
func (d *Desk) placement(ctx context.Context, mapFile string, opt IntakeOptions) (_ *placement, err error) {
	p := &placement{name: mapFile, stated: opt.Stated}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	if opt.Profile != "" {
		if p.profile, p.version, err = d.findProfile(ctx, opt.Profile); err != nil {
			return nil, err
		}
		if p.version == 0 {
			if p.changed, err = d.differsFromKept(ctx, p.profile); err != nil {
				return nil, err
			}
		}
	}
	if mapFile != "" {
		path, _ := workbook.Split(mapFile)
		file, err := source.Open(path)
		if err != nil {
			return nil, err
		}
		rules, err := placing.OpenMap(mapFile, file)
		if err != nil {
			return nil, err
		}
		p.rules = append(p.rules, rules)
	}
	if p.profile != nil && p.profile.Places() {
		p.rules = append(p.rules, p.profile.Rules())
	}
	if p.name == "" && p.profile != nil {
		p.name = p.profile.Name
	}
	if len(p.rules) == 0 {
		return nil, &study.Refusal{
			File: p.name, Fault: "nothing says where the curves belong",
			Try: "give a map with --map, or a profile with curves",
		}
	}
	return p, nil
}

// kind says whether a map places the curves, or a profile.
func (p *placement) kind() string {
	if p.profile != nil && p.name == p.profile.Name {
		return "the profile"
	}
	return "the map"
}

// describe names what places the curves.
func (p *placement) describe() string { return p.kind() + " " + p.name }

// notes returns notes on the map and on the profile.
func (p *placement) notes() (notes []string) {
	for _, r := range p.rules {
		notes = append(notes, r.Notes()...)
	}
	if p.changed != "" {
		notes = append(notes, p.changed)
	}
	return notes
}

func (p *placement) close() error {
	if p == nil {
		return nil
	}
	var errs []error
	for _, r := range p.rules {
		errs = append(errs, r.Close())
	}
	return errors.Join(errs...)
}

// givenMap packs the map for the study, if there is one: only what it comes to compressed is in memory.
func (p *placement) givenMap(s *store.Store) (given givenFiles, err error) {
	i := slices.IndexFunc(p.rules, (*placing.Rules).IsMap)
	if i < 0 {
		return nil, nil
	}
	e, err := s.PackFrom(filepath.Base(p.rules[i].Name()), p.rules[i].Copy)
	if err != nil {
		return nil, err
	}
	return givenFiles{{givenMap, e}}, nil
}

// placesFile reports whether something places curves of a file.
func (p *placement) placesFile(path string) bool {
	for _, r := range p.rules {
		if r.Names(path) {
			return true
		}
	}
	return false
}

// linesOf returns the lines that place the curves of a file.
func (p *placement) linesOf(path string) ([]sheet.Line[placing.Placing], error) {
	for _, r := range p.rules {
		if lines, err := r.For(path); err != nil || len(lines) > 0 {
			return lines, err
		}
	}
	return nil, nil
}

// statedOf returns what the person, the profile and the lines state of a file together.
func (p *placement) statedOf(path string, lines []sheet.Line[placing.Placing]) (text.Stated, error) {
	given := p.stated
	if p.profile != nil {
		var err error
		if given, err = p.profile.Answer(path, given); err != nil {
			return given, err
		}
	}
	return placing.StatedOf(lines, given)
}

// taking returns how a file is taken in. Two files with the same bytes and the same digest give the same
// readings.
func (p *intakePlan) taking(path string, lines []sheet.Line[placing.Placing], stated text.Stated) study.Taking {
	how := study.Taking{}
	b := binary.AppendUvarint(make([]byte, 0, 512), intake.ReaderVersion)
	text := func(words ...string) {
		for _, w := range words {
			b = append(binary.AppendUvarint(b, uint64(len(w))), w...)
		}
	}
	for _, a := range stated.Answers() {
		text(*a.To)
	}
	if w := p.placement; w.profile != nil && w.profile.Matches(path) {
		how.Profile, how.Version = w.profile.Name, w.version
		text(path, w.profile.Text) // its lines can depend on the path
	}
	for i := range lines {
		r := &lines[i].Row
		text(r.Column, r.Coupon, r.Spot, r.Condition, r.Polarisation, string(r.Quantity))
		text(r.Session, r.Operator, r.Geometry, r.Stated.Quantity)
		for _, v := range []float64{r.AngleDeg, float64(r.OrientationDeg)} {
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(v))
		}
		b = binary.AppendVarint(binary.AppendVarint(b, int64(r.Pull)), int64(r.Replicate))
		if r.HalfAngleDeg.Is {
			text("half-angle " + strconv.FormatFloat(r.HalfAngleDeg.Value, 'g', -1, 64))
		}
		if r.Position != "" {
			text("position " + r.Position)
		}
		if r.Mounting > 1 {
			text("mounting " + strconv.Itoa(r.Mounting))
		}
		if needsCertificate(stated.RelativeTo) {
			// without a certificate the line is refused when it is read
			if c, err := p.index.certificate(&lines[i], stated.RelativeTo); err == nil {
				text(c.Reference, c.Issued)
			}
		}
	}
	how.Digest, how.Stated = sha256.Sum256(b), statedWords(&stated)
	return how
}

// statedWords are the words in which a study keeps what was stated, as [text.ParseStated] reads them.
func statedWords(stated *text.Stated) string {
	var answers []string
	for _, a := range stated.Answers() {
		if *a.To != "" {
			answers = append(answers, a.Name+" "+*a.To)
		}
	}
	return strings.Join(answers, ", ")
}
