package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/study"
)

// profileText is a position in the rows of profiles.
var profileText = profileTable.column("text")

// AddProfile adds text as the next version of the profile called name and returns its
// number. If the latest version has the same text, it adds nothing and returns that
// one. A profile without a name is refused.
func (tx *Tx) AddProfile(name, text string) (version int, added bool, err error) {
	if name == "" {
		return 0, false, &study.Refusal{Fault: "the profile has no name", Try: "name it"}
	}
	err = tx.atomically(func() error {
		last, err := findProfile(tx.ctx, prepared{tx}, name, 0)
		if err != nil {
			return err
		}
		if last != nil {
			version = profileOf(last).Version
		}
		if last != nil && last.text(profileText) == text {
			return nil
		}
		version, added = version+1, true
		return tx.insert(profileTable, row{nil, nil, name, int64(version), text})
	})
	if err != nil {
		return 0, false, err
	}
	return version, added, nil
}

// profile returns the number of the row of the profile in how, nil if there is none in
// it. One that the study does not keep is refused.
func (tx *Tx) profile(export string, how study.Taking) (any, error) {
	if how.Profile == "" {
		return nil, nil
	}
	r, err := findProfile(tx.ctx, prepared{tx}, how.Profile, how.Version)
	if err != nil {
		return nil, err
	}
	if r == nil {
		return nil, noProfile(tx.ctx, prepared{tx}, export, how.Profile, how.Version)
	}
	return r[0], nil
}

// Profiles is [View.Profiles] of a moment of its own.
func (s *Store) Profiles(ctx context.Context) ([]study.Profile, error) {
	return view(ctx, s, (*View).Profiles)
}

// Profiles returns all versions of the profiles, in the order of name and version.
func (v *View) Profiles() (all []study.Profile, err error) {
	err = profileTable.each(v.ctx, v.q, "FROM profile ORDER BY profile, version", nil, func(r row) error {
		all = append(all, profileOf(r))
		return nil
	})
	return all, v.refuse(err)
}

// Profile returns a version of the profile called name; of version 0, the latest. One
// that is not there is refused, and those that are there are named.
func (v *View) Profile(name string, version int) (*study.Profile, error) {
	r, err := findProfile(v.ctx, v.q, name, version)
	if err == nil && r == nil {
		err = noProfile(v.ctx, v.q, v.store.path, name, version)
	}
	if err != nil {
		return nil, v.refuse(err)
	}
	p := profileOf(r)
	return &p, nil
}

// findProfile returns the row of a version of a profile; of version 0, the latest. It
// is nil if there is none.
func findProfile(ctx context.Context, q querier, name string, version int) (row, error) {
	return profileTable.one(ctx, q, "FROM profile WHERE profile = ? AND ? IN (0, version) ORDER BY version DESC LIMIT 1",
		name, version)
}

// noProfile refuses a profile that is not there.
func noProfile(ctx context.Context, q querier, file, name string, version int) error {
	var there []string
	latest := 0 // version of that name
	err := profileTable.each(ctx, q, "FROM profile ORDER BY profile, version", nil, func(r row) error {
		p := profileOf(r)
		there = append(there, p.Name)
		if p.Name == name {
			latest = p.Version
		}
		return nil
	})
	if err != nil {
		return err
	}
	switch {
	case latest > 0:
		return &study.Refusal{File: file, Fault: fmt.Sprintf("the profile %q has no version %d", name, version),
			Try: fmt.Sprintf("its versions are 1 to %d", latest)}
	case len(there) == 0:
		return &study.Refusal{File: file, Fault: fmt.Sprintf("there is no profile %q: the study keeps none", name),
			Try: "keep it first: wane profile add PROFILE.yaml"}
	}
	return &study.Refusal{File: file, Fault: fmt.Sprintf("there is no profile %q", name),
		Try: study.DidYouMean(name, there, "take one of these: "+strings.Join(slices.Compact(there), ", "))}
}

func profileOf(r row) study.Profile {
	f := r.fields()
	return study.Profile{Name: f.text(), Version: f.whole(), Text: f.text()}
}
