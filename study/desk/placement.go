package desk

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"strings"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/store"
)

// placement says where curves go and what is stated of their exports: a map, a profile,
// or both.
type placement struct {
	name    string          // the path of the map, else the name of the profile
	rules   []*intake.Rules // the map's before the profile's: the first that has lines for a file counts
	given   text.Stated     // of all exports
	profile *intake.Profile // nil: none
	version int             // of the profile; 0: it is not in the study yet
}

// placement opens the map and the profile.
func (d *Desk) placement(ctx context.Context, mapFile string, opt IntakeOptions) (_ *placement, err error) {
	p := &placement{name: mapFile, given: opt.Stated}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	if opt.Profile != "" {
		if p.profile, p.version, err = d.findProfile(ctx, opt.Profile); err != nil {
			return nil, err
		}
	}
	if mapFile != "" {
		rules, err := intake.OpenMap(mapFile)
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
		return nil, &study.Refusal{File: p.name, Fault: "nothing says where the curves belong", Try: "give a map with --map, or a profile with curves"}
	}
	return p, nil
}

// what says whether a map places the curves, or a profile.
func (p *placement) what() string {
	if p.profile != nil && p.name == p.profile.Name {
		return "the profile"
	}
	return "the map"
}

// by names what places the curves.
func (p *placement) by() string { return p.what() + " " + p.name }

// notes says what is worth telling of what places the curves.
func (p *placement) notes() (notes []string) {
	for _, r := range p.rules {
		notes = append(notes, r.Notes()...)
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

// names reports whether something places curves of a file.
func (p *placement) names(path string) bool {
	for _, r := range p.rules {
		if r.Names(path) {
			return true
		}
	}
	return false
}

// lines returns the lines that place the curves of a file.
func (p *placement) lines(path string) ([]intake.Line[intake.Placing], error) {
	for _, r := range p.rules {
		if lines, err := r.For(path); err != nil || len(lines) > 0 {
			return lines, err
		}
	}
	return nil, nil
}

// stated returns what the person, the profile and the lines state of a file together.
func (p *placement) stated(path string, lines []intake.Line[intake.Placing]) (text.Stated, error) {
	given := p.given
	if p.profile != nil {
		var err error
		if given, err = p.profile.Answer(path, given); err != nil {
			return given, err
		}
	}
	return intake.StatedOf(lines, given)
}

// taking says how a file is taken in. Two files with the same bytes and the same digest
// come to the same readings.
func (p *intakePlan) taking(path string, lines []intake.Line[intake.Placing], stated text.Stated) study.Taking {
	how := study.Taking{}
	b := binary.AppendUvarint(make([]byte, 0, 512), intake.ReaderVersion)
	text := func(words ...string) {
		for _, w := range words {
			b = append(binary.AppendUvarint(b, uint64(len(w))), w...)
		}
	}
	var said []string
	for _, a := range stated.Answers() {
		text(*a.To)
		if *a.To != "" {
			said = append(said, a.Name+" "+*a.To)
		}
	}
	if w := p.where; w.profile != nil && w.profile.Matches(path) {
		how.Profile, how.Version = w.profile.Name, w.version
		text(path, w.profile.Text) // its lines take from the path
	}
	for i := range lines {
		r := &lines[i].Row
		text(r.Column, r.Coupon, r.Spot, r.Condition, r.Polarisation, string(r.Quantity), r.Session, r.Operator, r.Geometry, r.Stated.Quantity)
		for _, v := range []float64{r.AngleDeg, float64(r.OrientationDeg)} {
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(v))
		}
		b = binary.AppendVarint(binary.AppendVarint(b, int64(r.Pull)), int64(r.Replicate))
		if isReference(stated.RelativeTo) {
			if c, err := p.index.certificate(&lines[i], stated.RelativeTo); err == nil { // else the line is refused when it is read
				text(c.Reference, c.Issued)
			}
		}
	}
	how.Digest, how.Stated = sha256.Sum256(b), strings.Join(said, ", ")
	return how
}

// findProfile returns the profile in a file, or the latest version of the one that the
// study keeps under a name.
func (d *Desk) findProfile(ctx context.Context, at string) (*intake.Profile, int, error) {
	if _, err := os.Stat(at); err == nil || strings.ContainsAny(at, `/\`) || isYAML(at) {
		p, err := readProfile(at)
		return p, 0, err
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, 0, err
	}
	kept, err := d.Profile(ctx, at, 0)
	if err != nil {
		return nil, 0, err
	}
	p, err := intake.ReadProfile("profile "+kept.Name, []byte(kept.Text))
	return p, kept.Version, err
}

func isYAML(name string) bool {
	return strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml")
}

func readProfile(path string) (*intake.Profile, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return intake.ReadProfile(path, data)
}

// KeptProfile is a profile of the study.
type KeptProfile struct {
	study.Profile
	Added bool // it is a new version
}

// AddProfile puts the profile in a file into the study. A text that differs from the
// latest version of that name is a new version.
func (d *Desk) AddProfile(ctx context.Context, path string) (KeptProfile, error) {
	p, err := readProfile(path)
	if err != nil {
		return KeptProfile{}, err
	}
	return d.addProfile(ctx, p)
}

// SaveAnswers puts a profile into the study that answers for all exports what was
// stated of some.
func (d *Desk) SaveAnswers(ctx context.Context, name string, stated text.Stated) (KeptProfile, error) {
	p, err := intake.ReadProfile("profile "+name, []byte(intake.WithAnswers(name, "", stated)))
	if err != nil {
		return KeptProfile{}, err
	}
	return d.addProfile(ctx, p)
}

func (d *Desk) addProfile(ctx context.Context, p *intake.Profile) (KeptProfile, error) {
	kept := KeptProfile{Profile: study.Profile{Name: p.Name, Text: p.Text}}
	entry := d.entry("profile", "")
	err := d.store.Write(ctx, entry, func(tx *store.Tx) (err error) {
		kept.Version, kept.Added, err = tx.AddProfile(p.Name, p.Text)
		entry.Summary = fmt.Sprintf("kept version %d of profile %s", kept.Version, p.Name)
		return err
	})
	return kept, err
}

// Profiles returns all versions of all profiles, in the order of name and version.
func (d *Desk) Profiles(ctx context.Context) ([]study.Profile, error) { return d.store.Profiles(ctx) }

// Profile returns a version of a profile, 0 for the latest. One that is not there is
// refused.
func (d *Desk) Profile(ctx context.Context, name string, version int) (p *study.Profile, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		p, err = v.Profile(name, version)
		return err
	})
	return p, err
}

// CheckProfile says what a profile would make of exports, without a study: which curve
// goes where. Coupons and pulls are not looked up.
func CheckProfile(path string, exports []string) (all []Previewed, err error) {
	p, err := readProfile(path)
	if err != nil {
		return nil, err
	}
	return checkProfile(p, exports)
}

// CheckProfile is [CheckProfile] for a profile in a file, or one that the study keeps.
func (d *Desk) CheckProfile(ctx context.Context, at string, exports []string) ([]Previewed, error) {
	p, _, err := d.findProfile(ctx, at)
	if err != nil {
		return nil, err
	}
	return checkProfile(p, exports)
}

func checkProfile(p *intake.Profile, exports []string) (all []Previewed, err error) {
	files := &source.Files{}
	defer func() { err = errors.Join(err, files.Close()) }()
	where := &placement{name: p.Name, profile: p}
	if p.Places() {
		where.rules = []*intake.Rules{p.Rules()}
	}
	found, err := files.Find(exports)
	if err != nil {
		return nil, err
	}
	for _, f := range found {
		if f.Named || p.Matches(f.Path) {
			all = append(all, where.preview(files, f))
			continue
		}
		all = append(all, Previewed{File: f.Path, Notes: []string{"left, since " + where.by() + " is not for files of this name"}})
	}
	return all, nil
}
