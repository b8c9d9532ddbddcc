package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/study"
)

var profileTable = newVersionsTable(18, "profile")

// AddProfile adds text as the next version of the profile called name and returns its
// number. If the latest version has the same text, it adds nothing and returns that
// one. A profile without a name is refused.
func (tx *Tx) AddProfile(name, text string) (version int, added bool, err error) {
	return tx.addVersion(profileTable, name, text)
}

// profile returns the number of the row of the profile in how, 0 if there is none in
// it. One that the study does not keep is refused.
func (tx *Tx) profile(export string, how study.Taking) (int64, error) {
	if how.Profile == "" {
		return 0, nil
	}
	p, err := findVersion(tx.ctx, prepared{tx}, profileTable, how.Profile, how.Version)
	if err == nil && p == nil {
		err = noProfile(tx.ctx, prepared{tx}, export, how.Profile, how.Version)
	}
	if err != nil {
		return 0, err
	}
	return p.Number, nil
}

// Profiles is [View.Profiles] of a moment of its own.
func (s *Store) Profiles(ctx context.Context) ([]study.Profile, error) {
	return view(ctx, s, (*View).Profiles)
}

// Profiles returns all versions of the profiles, in the order of name and version.
func (v *View) Profiles() ([]study.Profile, error) {
	all, err := allVersions(v.ctx, v.q, profileTable)
	return all, v.refuse(err)
}

// Profile returns a version of the profile called name; of version 0, the latest. One
// that is not there is refused, and those that are there are named.
func (v *View) Profile(name string, version int) (*study.Profile, error) {
	p, err := findVersion(v.ctx, v.q, profileTable, name, version)
	if err == nil && p == nil {
		err = noProfile(v.ctx, v.q, v.store.path, name, version)
	}
	if err != nil {
		return nil, v.refuse(err)
	}
	return &p.Row, nil
}

// noProfile refuses a profile that is not there.
func noProfile(ctx context.Context, q querier, file, name string, version int) error {
	all, err := allVersions(ctx, q, profileTable)
	if err != nil {
		return err
	}
	var there []string
	latest := 0 // version of that name
	for _, p := range all {
		there = append(there, p.Name)
		if p.Name == name {
			latest = p.Version
		}
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
