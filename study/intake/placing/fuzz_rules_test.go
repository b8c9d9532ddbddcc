package placing_test

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text/texttest"
)

// mapSeeds are maps that are taken, written in all ways.
func mapSeeds(t testing.TB) [][]byte {
	all := [][]byte{
		madeUpMap(3, true),
		[]byte("\ufeff# made up\r\n" + mapHead +
			"a.csv,#2,A1,0,1,8,u,R,percent\r\n\r\n# x\r\n./a.csv,#3,A1,0,1,57.5,s,,\r\na.csv,#2,A1,0,1,8,u,R,percent"),
		[]byte("coupon,file,column,pull,spot,polarisation,angle_deg,unit,quantity,orientation_deg,replicate,session," +
			"wavelength_unit\n" +
			"\u00c91,\"a, \"\"b\"\".csv\",\"R, 8\",0,1,n,8,,,-30,2,2031-a,cm-1\nA1,p.zip/e\u0301.csv,R,0,1,n,0,,,,,,um\n"),
	}
	for _, text := range all {
		_, err := placing.ReadLines("seed", text)
		require.NoError(t, err)
	}
	return all
}

// A map either is refused, or its rules are the rows that encoding/csv finds.
func FuzzMap(f *testing.F) {
	for _, text := range mapSeeds(f) {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		path := onDisk(t, "map.csv", text)
		rules, err := openRules(path)
		if err != nil {
			texttest.RequireRefusal(t, err)
			return
		}
		defer func() { require.NoError(t, rules.Close()) }()
		requireRules(t, rules, filepath.Dir(path), text)
	})
}

// A profile either is refused, or says the same when it is written in another way.
func FuzzProfile(f *testing.F) {
	for _, text := range texttest.Files(f, "testdata/profiles/*", 4) {
		_, err := placing.ReadProfile("seed", text)
		require.NoError(f, err)
		f.Add(text, "x/roof/may/B2_1.csv")
		f.Add(text, "A1-pull0-1.csv")
	}
	for name, data := range texttest.Files(f, "../testdata/dialects/*", 12) {
		if draft, err := desk.DraftProfile("b", name, data); err == nil {
			f.Add([]byte(filled(draft)), name)
		}
	}
	x := exportOf(f, "lab/x.csv", "8 deg", "A1 p0 R 57.5deg y", "note")
	f.Fuzz(func(t *testing.T, text []byte, path string) {
		p, err := placing.ReadProfile("b.yaml", text)
		if err != nil {
			texttest.RequireRefusal(t, err)
			return
		}
		require.Equal(t, string(text), p.Text)
		answers, err := placing.ReadProfile("b.yaml", []byte(placing.WithAnswers(p.Name, "", p.Stated())))
		require.NoError(t, err)
		require.Equal(t, p.Name, answers.Name)
		require.Equal(t, p.Stated(), answers.Stated())

		var root yaml.Node
		require.NoError(t, yaml.Unmarshal(text, &root))
		again, err := placing.ReadProfile("b.yaml", jsonOf(t, root.Content[0]))
		require.NoError(t, err)
		require.Equal(t, p.Name, again.Name)
		require.Equal(t, p.Stated(), again.Stated())
		require.Equal(t, p.Places(), again.Places())
		for _, path := range []string{path, "A1-pull0-1.csv", "lab/x.csv"} {
			require.Equal(t, p.Matches(path), again.Matches(path))
			one, other := whereBy(t, p, path, x), whereBy(t, again, path, x)
			require.Equal(t, one, other)
		}
	})
}

// whereBy returns where a profile puts the curves of an export under a path, or why it
// does not, without the lines.
func whereBy(t *testing.T, p *placing.Profile, path string, x *intake.Export) []string {
	lines, err := p.Rules().For(path)
	var placed []placing.Placed
	if err == nil {
		require.Equal(t, p.Places() && p.Matches(path), len(lines) > 0)
		placed, _, err = placing.Place(lines, x.Spectra, x.Skipped)
	}
	if err != nil {
		texttest.RequireRefusal(t, err)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		return []string{r.Fault, r.Try}
	}
	var where []string
	for _, p := range placed {
		text, err := json.Marshal([]any{p.Row.Place, p.Row.File, p.Row.Column, p.Row.Stated, p.Row.Session, p.Row.Operator,
			p.Row.Geometry, fmt.Sprint(p.Row.OrientationDeg), p.Spectrum.Column})
		require.NoError(t, err)
		where = append(where, string(text))
	}
	return where
}

// jsonOf writes a YAML document as JSON, which is YAML too, with all values as texts and
// without names that have nothing behind them.
func jsonOf(t *testing.T, n *yaml.Node) []byte {
	var plain func(n *yaml.Node) any
	plain = func(n *yaml.Node) any {
		switch n.Kind {
		case yaml.MappingNode:
			fields := map[string]any{}
			for i := 0; i < len(n.Content); i += 2 {
				if v := n.Content[i+1]; v.Kind != yaml.ScalarNode || v.ShortTag() != "!!null" {
					fields[n.Content[i].Value] = plain(v)
				}
			}
			return fields
		case yaml.SequenceNode:
			items := []any{}
			for _, item := range n.Content {
				items = append(items, plain(item))
			}
			return items
		}
		return n.Value
	}
	text, err := json.Marshal(plain(n))
	require.NoError(t, err)
	return text
}
