package desk

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/protocols"
	"wane/study"
)

// ownRack is a protocol of a laboratory. Made up.
const ownRack = `protocol: our-rack
title: made up
kind: exposure
purpose: a test
basis: common practice, no source
dose-unit: days
dose: a day
pulls: [0, 90]
levels: [{what: tilt, value: 30, unit: degrees, source: made up}]
steps: [one]
records: [day]
invalid-if: [it fell]
cautions: [edges cut]
`

// codesOf are the protocols that a study keeps, with what follows them.
func codesOf(t *testing.T, d *Desk) map[string][]Follower {
	t.Helper()
	all, err := d.Protocols(t.Context())
	require.NoError(t, err)
	kept := map[string][]Follower{}
	for i := range all {
		if all[i].Version > 0 {
			kept[all[i].Code()] = all[i].FollowedBy
		}
	}
	return kept
}

// A pull remembers the version of the day of its enrolment; one that names a version stays with it.
func TestPullsRememberTheVersionOfTheirDay(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.startFrom(f.write("none.csv", exposureHeader+"words,something else,made up,days,\n"))
	for i, text := range []string{ownRack, strings.Replace(ownRack, "made up", "made up again", 1)} {
		kept, err := d.AddProtocols(ctx, []string{f.write("rack.yaml", text)})
		require.NoError(t, err)
		assert.Equal(t, []KeptProtocol{{study.Protocol{Name: "our-rack", Version: i + 1, Text: text}, true}}, kept)
		name := string(rune('a' + i))
		_, err = d.Enrol(ctx, []string{
			f.write("e.csv", exposureHeader+name+",our-rack,made up,days,\n"+name+"1,our-rack@1,made up,days,\n"),
			f.write("p.csv", pullHeader+name+",0,0,\n"+name+"1,0,0,\na,"+[]string{"1,90", "2,180"}[i]+",\nwords,"+
				[]string{"0,0", "1,30"}[i]+",\n"),
		})
		require.NoError(t, err)
	}
	_, err := d.Enrol(ctx, []string{f.write("e.csv", exposureHeader+"c,our-rack,made up,days,\n")})
	require.NoError(t, err)
	assert.Equal(t, map[string][]Follower{"our-rack@1": {{"a", []int{0, 1}}, {"a1", []int{0}}, {"b1", []int{0}}},
		"our-rack@2": {{"a", []int{2}}, {"b", []int{0}}, {"c", nil}}}, codesOf(t, d))
	roster, err := d.store.Roster(ctx)
	require.NoError(t, err)
	var remembered []string
	for _, e := range roster.Exposures {
		remembered = append(remembered, e.Exposure+" "+e.KeptProtocol)
	}
	assert.Equal(t, []string{"a our-rack@1", "a1 our-rack@1", "b our-rack@2", "b1 our-rack@1", "c our-rack@2", "words "}, remembered)
}

// A protocol of the library goes into the study when an exposure follows it, and once only.
func TestTheStudyKeepsWhatItFollows(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.startFrom()
	roster := []string{f.write("e.csv", exposureHeader+"x,damp-heat,made up,hours,\ny,damp-heat,made up,hours,\n"),
		f.write("p.csv", pullHeader+"x,0,0,\ny,0,0,\n")}
	n, err := d.Enrol(ctx, roster)
	require.NoError(t, err)
	assert.Equal(t, 1, n.Protocols)
	assert.Equal(t, "2 exposures, 2 pulls, 1 protocol", n.String())
	before := dump(t, d)
	n, err = d.Enrol(ctx, roster)
	require.NoError(t, err)
	assert.True(t, n.None())
	assert.Equal(t, before, dump(t, d))
	var kept []study.Protocol
	all, err := d.Protocols(ctx)
	require.NoError(t, err)
	for _, p := range all {
		if p.Version > 0 {
			kept = append(kept, study.Protocol{Name: p.Name, Version: p.Version, Text: p.Text})
		}
	}
	assert.Equal(t, []study.Protocol{{Name: "damp-heat", Version: 1, Text: protocols.Find("damp-heat").Text}}, kept)
	assert.Len(t, all, len(protocols.Library()), "it is there once")
}

// What is refused changes nothing, and keeps no protocol.
func TestProtocolsThatDoNotFit(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.startFrom()
	_, err := d.AddProtocols(ctx, []string{f.write("rack.yaml", ownRack)})
	require.NoError(t, err)
	before := dump(t, d)
	for _, c := range []struct{ name, row, fault string }{
		{"another dose unit", "x,damp-heat,,days,\n", "its dose is in days, and that of the protocol damp-heat in hours"},
		{"a protocol of reading", "x,angle-reflectance,,days,\n", "the protocol angle-reflectance is for readings"},
		{"a version that is not there", "x,our-rack@2,,days,\n", "the study keeps no version 2 of the protocol our-rack"},
		{"a version of the library", "x,uv-dose@2,,kWh/m2,\n", "the study keeps no version 2 of the protocol uv-dose"},
		{"a good row before a bad one", "y,damp-heat,,hours,\nx,damp-heat,,days,\n", "its dose is in days"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := d.Enrol(ctx, []string{f.write("e.csv", exposureHeader+c.row)})
			var r *study.Refusal
			require.True(t, errors.As(err, &r), "%v", err)
			assert.Contains(t, r.Error(), c.fault)
			assert.Equal(t, 1+strings.Count(c.row, "\n"), r.Line)
			assert.Equal(t, before, dump(t, d))
		})
	}
	for _, c := range []struct{ name, old, now, fault string }{
		{"another dose unit", "dose-unit: days", "dose-unit: hours", "counts in days already, and here in hours"},
		{"that of the library", "our-rack", "damp-heat", "counts in hours already, and here in days"},
		{"another kind", "kind: exposure", "kind: reading", "a protocol of kind reading has no dose-unit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			good := f.write("good.yaml", strings.Replace(ownRack, "our-rack", "our-wall", 1))
			_, err := d.AddProtocols(ctx, []string{good, f.write("bad.yaml", strings.Replace(ownRack, c.old, c.now, 1))})
			var r *study.Refusal
			require.True(t, errors.As(err, &r), "%v", err)
			assert.Contains(t, r.Error(), c.fault)
			assert.Contains(t, r.File, "bad.yaml")
			assert.Equal(t, before, dump(t, d))
		})
	}
}

// All that is wrong with all files is refused at once.
func TestAllFaultsOfAllFilesAreRefused(t *testing.T) {
	f := newFolder(t)
	d := f.startFrom()
	_, err := d.AddProtocols(t.Context(), []string{
		f.write("a.yaml", strings.NewReplacer("days", "weeks", "90", "0").Replace(ownRack)),
		f.write("b.yaml", strings.Replace(ownRack, "unit: degrees, ", "", 1)),
	})
	var all study.Refusals
	require.True(t, errors.As(err, &all), "%v", err)
	require.Len(t, all, 3)
	for i, line := range []int{6, 8, 9} {
		assert.Equal(t, line, all[i].Line)
	}
	assert.Contains(t, all[2].File, "b.yaml")
	assert.Contains(t, all.Error(), "a level has no unit")
}

func TestFindProtocol(t *testing.T) {
	all := []KnownProtocol{{Protocol: &protocols.Protocol{Name: "heat"}}, {Protocol: &protocols.Protocol{Name: "heat"}, Version: 1},
		{Protocol: &protocols.Protocol{Name: "heat"}, Version: 2}, {Protocol: &protocols.Protocol{Name: "cold"}}}
	for called, want := range map[string]*KnownProtocol{"heat": &all[2], "heat@1": &all[1], "heat@2": &all[2], "cold": &all[3]} {
		got, err := FindProtocol(all, called)
		require.NoError(t, err)
		assert.Same(t, want, got, called)
	}
	for called, fault := range map[string]string{"heat@3": "the protocol heat has no version 3 here",
		"cold@1": "the protocol cold has no version 1 here", "heat@": `there is no protocol "heat@"`,
		"heat@01": `there is no protocol "heat@01"`, "heat@0": `there is no protocol "heat@0"`, "": `there is no protocol ""`} {
		_, err := FindProtocol(all, called)
		assert.EqualError(t, err, fault)
	}
}
