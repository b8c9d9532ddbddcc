package placing_test

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// readable reads an export with the first of the answers offered each time; nil if that
// leads nowhere.
func readable(name string, data []byte, stated text.Stated) (*intake.Export, text.Stated) {
	x, err := intake.Read(name, data, stated)
	if err == nil {
		return x, stated
	}
	r, ok := err.(*study.Refusal)
	if !ok {
		return nil, stated
	}
	for _, c := range r.Choices {
		next := stated
		if c.Value == "" {
			c.Value = "reference"
		}
		if next.Set(c.Name, c.Value) != nil {
			continue
		}
		if x, with := readable(name, data, next); x != nil {
			return x, with
		}
	}
	return nil, stated
}

var blank = regexp.MustCompile(`(?m)^    (coupon|pull|spot|angle|polarisation): ""   # fill in.*$`)

// filled fills the blanks of a draft in, each curve with a spot of its own.
func filled(draft string) string {
	n := 0
	return blank.ReplaceAllStringFunc(draft, func(line string) string {
		name := strings.TrimSpace(line[:strings.Index(line, ":")])
		n++
		return "    " + name + ": " + map[string]string{"coupon": "A1", "pull": "0", "spot": fmt.Sprint(n), "angle": "8",
			"polarisation": "u"}[name]
	})
}

// The draft from any export that can be read is a profile once its blanks are filled, and
// places every curve of the export but transmittance. What is open it leaves open.
func TestDraftsAreProfiles(t *testing.T) {
	for folder, files := range map[string]map[string][]byte{"dialects": texttest.Files(t, "../testdata/dialects/*", 12),
		"jcamp":   texttest.Files(t, "../testdata/jcamp/*.jdx", 13),
		"made-up": texttest.Files(t, "../testdata/made-up/*", 12)} {
		drafted := 0
		for name, data := range files {
			t.Run(filepath.Base(name), func(t *testing.T) {
				x, answers := readable(name, data, text.Stated{})
				draft, err := desk.DraftProfile("bench", name, data)
				if x == nil {
					var r *study.Refusal
					require.ErrorAs(t, err, &r)
					_, refusal := intake.Read(name, data, text.Stated{})
					require.EqualError(t, err, refusal.Error())
					require.Empty(t, r.Choices)
					return
				}
				drafted++
				require.NoError(t, err)
				for _, l := range strings.Split(draft, "\n")[1:] {
					if !strings.HasPrefix(l, "#   ") {
						break
					}
					explained := slices.ContainsFunc(intake.Explain(filepath.Base(name), data, text.Stated{}),
						func(e string) bool { return "#   "+e == l })
					assert.True(t, explained || strings.HasPrefix(l, "#   and ") || strings.ContainsRune(l, '\ufffd'), l)
				}
				p, err := placing.ReadProfile("b.yaml", []byte(filled(draft)))
				require.NoError(t, err, draft)
				assert.Equal(t, "bench", p.Name)
				assert.Equal(t, text.Stated{}, p.Stated(), "nothing is answered")
				for _, a := range answers.Answers() {
					if *a.To != "" {
						assert.Contains(t, draft, "\n  # "+a.Name+": ")
					}
				}
				lines, err := p.Rules().For(name)
				require.NoError(t, err)
				x.Spectra = slices.DeleteFunc(x.Spectra, func(s study.Spectrum) bool { return s.Quantity == study.Transmittance })
				placed, left, err := placing.Place(lines, x.Spectra, x.Skipped)
				require.NoError(t, err, draft)
				assert.Len(t, placed, len(x.Spectra))
				assert.Empty(t, left)
			})
		}
		assert.GreaterOrEqual(t, drafted, 10, folder)
	}
}

func TestDraft(t *testing.T) {
	text := "Sample: made up\nWavelength,R 8 deg (%),R 57.5 deg s-pol (%),Dark,same %R,same %R,Blank %R,{x} %R\n" +
		"500,4,5,0.1,3,3,2,1\n501,4.1,5.1,0.2,3.1,3.2,2.1,1.2\n502,4.3,5.1,0.1,3.1,3.2,2.1,1.2\n"
	draft, err := desk.DraftProfile("", "lab/A01-pull0-1.csv", []byte(text))
	require.NoError(t, err)
	for _, part := range []string{
		"# Drafted from A01-pull0-1.csv. What the reader found there:\n#   text        UTF-8; lines end with LF (5)\n",
		"\nprofile: \"\"   # fill in: its name in the study\n",
		"\n# files: \"{coupon}-pull{pull}-1.csv\"\n",
		"\nstated:\n  # line 2: ",
		"\n  # wavelength-unit: nm   # nanometres\n  # wavelength-unit: um   # micrometres\n",
		"\n  - column: \"R 8 deg (%)\"   # column 2, 3 points; 500 nm 0.04, 501 nm 0.041, 502 nm 0.043\n" +
			"    coupon: \"\"   # fill in\n    pull: \"\"   # fill in\n    spot: \"\"   # fill in\n    angle: 8\n" +
			"    polarisation: \"\"   # fill in: ",
		"\n  - column: \"R 57.5 deg s-pol (%)\"   # column 3, ", "\n    angle: 57.5\n    polarisation: s\n",
		"\n  # - column: \"Dark\"   # skipped: ",
		"\n  # - column: \"Blank %R\"   # skipped: a baseline or reference by its name\n  #   coupon: \"\"   # fill in\n",
		"\n  - column: \"#5\"   # column 5, ", "\n  - column: \"#6\"   # column 6, ", "\n  - column: \"#8\"   # column 8, ",
	} {
		assert.Contains(t, draft, part, draft)
	}
	_, err = placing.ReadProfile("b.yaml", []byte(draft))
	texttest.Refused(t, err, "b.yaml",
		fmt.Sprintf("%d: profile is empty", 1+strings.Count(draft[:strings.Index(draft, "profile: ")], "\n")))
	draft = strings.Replace(draft, `profile: ""`, "profile: b", 1)
	_, err = placing.ReadProfile("b.yaml", []byte(draft))
	texttest.Refused(t, err, "b.yaml",
		fmt.Sprintf("%d: coupon is empty", 1+strings.Count(draft[:strings.Index(draft, "coupon: \"\"")], "\n")))
	_, err = placing.ReadProfile("b.yaml", []byte(filled(draft)))
	require.NoError(t, err)
	_, err = desk.DraftProfile("b", "empty.csv", nil)
	require.EqualError(t, err, "empty.csv: the file is empty")
}

// A draft stays short enough for a person, and for the reader of profiles.
func TestDraftOfManyColumns(t *testing.T) {
	draft, err := desk.DraftProfile("b", "many.csv", texttest.Export(3, 6))
	require.NoError(t, err)
	assert.Equal(t, 6, strings.Count(draft, "- column: "))
	var b strings.Builder
	b.WriteString("nm")
	for i := range 600 {
		fmt.Fprintf(&b, ",S%d %%R", i)
	}
	for _, nm := range []string{"500", "501"} {
		b.WriteString("\n" + nm + strings.Repeat(",4.1", 600))
	}
	draft, err = desk.DraftProfile("b", "many.csv", []byte(b.String()))
	require.NoError(t, err)
	assert.Equal(t, 500, strings.Count(draft, "- column: "))
	assert.True(t, strings.HasSuffix(draft, "\n  # and 100 columns more\n"))
	assert.Regexp(t, `\n#   and [0-9]+ lines more\n`, draft)
	_, err = placing.ReadProfile("b.yaml", []byte(filled(draft)))
	require.NoError(t, err)
}
