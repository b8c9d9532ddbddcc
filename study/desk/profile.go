package desk

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/placing"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/store"
)

// KeptProfile is a profile of the study.
type KeptProfile struct {
	study.Profile
	Added bool // it is a new version
}

// AddProfile puts the profile in a file into the study. A text that differs from the
// latest version of that name is a new version.
func (d *Desk) AddProfile(ctx context.Context, path string) (KeptProfile, error) {
	p, err := ReadProfile(path)
	if err != nil {
		return KeptProfile{}, err
	}
	return d.addProfile(ctx, p)
}

// SaveAnswers stores a profile in the study that states, for all exports, what was stated of some.
func (d *Desk) SaveAnswers(ctx context.Context, name string, stated text.Stated) (KeptProfile, error) {
	p, err := placing.ReadProfile("profile "+name, []byte(placing.WithAnswers(name, "", stated)))
	if err != nil {
		return KeptProfile{}, err
	}
	return d.addProfile(ctx, p)
}

func (d *Desk) addProfile(ctx context.Context, p *placing.Profile) (KeptProfile, error) {
	kept := KeptProfile{Profile: study.Profile{Name: p.Name, Text: p.Text}}
	entry := d.entry("profile", "")
	err := d.write(ctx, entry, func(tx *store.Tx) (err error) {
		kept.Version, kept.Added, err = tx.AddProfile(p.Name, p.Text)
		entry.Summary = fmt.Sprintf("kept version %d of profile %s", kept.Version, p.Name)
		return err
	})
	return kept, err
}

// Profiles returns all versions of all profiles, in the order of name and version.
func (d *Desk) Profiles(ctx context.Context) ([]study.Profile, error) { return d.store.Profiles(ctx) }

// Profile returns a version of a profile, 0 for the latest, or for that of NAME@2. One that is not there is
// refused.
func (d *Desk) Profile(ctx context.Context, name string, version int) (p *study.Profile, err error) {
	if version == 0 {
		name, version = versionOf(name)
	}
	err = d.store.View(ctx, func(v *store.View) error {
		p, err = v.Profile(name, version)
		return err
	})
	return p, err
}

// findProfile returns the profile in a file, or one that the study keeps: NAME@2 is a version of it, NAME the latest. The
// version of a file is 0.
func (d *Desk) findProfile(ctx context.Context, at string) (*placing.Profile, int, error) {
	if _, err := os.Stat(at); err == nil || strings.ContainsAny(at, `/\`) || IsProfilePath(at) {
		p, err := ReadProfile(at)
		return p, 0, err
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, 0, err
	}
	kept, err := d.Profile(ctx, at, 0)
	if err != nil {
		return nil, 0, err
	}
	p, err := placing.ReadProfile("profile "+kept.Name, []byte(kept.Text))
	return p, kept.Version, err
}

// versionOf reads the name and the version of a profile, as NAME@2; without a version that is 0, the latest.
func versionOf(at string) (name string, version int) {
	if i := strings.LastIndexByte(at, '@'); i > 0 {
		if n, err := strconv.Atoi(at[i+1:]); err == nil && n > 0 {
			return at[:i], n
		}
	}
	return at, 0
}

// differsFromKept says that a profile from a file is not what the study keeps under its name; empty: it is, or the study
// keeps none.
func (d *Desk) differsFromKept(ctx context.Context, p *placing.Profile) (note string, err error) {
	all, err := d.Profiles(ctx)
	if err != nil {
		return "", err
	}
	var latest study.Profile
	for _, kept := range all {
		if kept.Name == p.Name {
			latest = kept
		}
	}
	if latest.Version == 0 || latest.Text == p.Text {
		return "", nil
	}
	return fmt.Sprintf("profile %s differs from version %d, which the study keeps: what is taken in by it makes it version %d",
		p.Name, latest.Version, latest.Version+1), nil
}

// IsProfilePath reports whether a name is that of a file with a profile: it ends in .yaml or .yml.
func IsProfilePath(name string) bool {
	ending := strings.ToLower(filepath.Ext(name))
	return ending == ".yaml" || ending == ".yml"
}

// CheckProfile returns what a profile would make of exports, without a study: where each curve would
// belong. Whether coupons are enrolled and pulls are planned is not checked.
func CheckProfile(path string, exports []string) (all []Previewed, err error) {
	p, err := ReadProfile(path)
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

func checkProfile(p *placing.Profile, exports []string) (all []Previewed, err error) {
	files := &source.Files{}
	defer func() { err = errors.Join(err, files.Close()) }()
	where := &placement{name: p.Name, profile: p}
	if p.Places() {
		where.rules = []*placing.Rules{p.Rules()}
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
		skipped := "skipped, since " + where.describe() + " is not for files of this name"
		all = append(all, Previewed{File: f.Path, Notes: []string{skipped}})
	}
	return all, nil
}
