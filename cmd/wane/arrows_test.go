package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// arrows lists, for each package, those of ours that it may import. What is not listed may not.
var arrows = map[string]string{
	"optics":           "optics/internal/figures",
	"optics/solar":     "optics optics/internal/figures",
	"optics/colour":    "optics optics/internal/figures",
	"fit":              "",
	"fit/mixed":        "fit",
	"fit/lifetime":     "",
	"fit/simultaneous": "",
	"study/acceptance": "study study/series protocols/fields",
	"fit/film":         "fit optics",
	"protocols":        "protocols/fields",
	"protocols/fields": "",
	"study":            "",
	"study/frame":      "study study/series",
	"study/shown": "study study/desk study/ageing study/guard study/evaluate study/difference study/population " +
		"study/tint optics/colour",
	"study/drawn": "study study/desk study/shown study/report study/ageing study/acceptance study/difference study/guard " +
		"study/evaluate study/series study/shape study/tint",
	"study/web": "study study/desk study/intake/text study/shown study/drawn study/table study/report study/ageing " +
		"study/difference study/series study/evaluate study/tint optics/colour",
	"study/web/webtest": "",
	"study/store":       "study",
	"study/table":       "study",
	"study/intake":      "study study/intake/text study/intake/jcamp study/intake/heading study/intake/workbook",
	"study/evaluate":    "study fit/film fit optics optics/solar optics/colour",
	"study/guard":       "study study/evaluate fit/film optics",
	"study/ageing":      "study study/life",
	"study/transfer":    "",
	"study/service":     "",
	"study/cleaning":    "",
	"study/life":        "study",
	"study/cause":       "study fit/film optics optics/solar",
	"study/gauge":       "",
	"study/tint":        "optics optics/colour",
	"study/series":      "study study/life",
	"study/shape":       "study study/series fit fit/lifetime",
	"study/population":  "study study/series fit fit/mixed",
	"study/difference":  "study study/series study/population fit/simultaneous",
	"study/bench":       "study study/life protocols",
	"study/report":      "study study/bench study/report/paper protocols fit/film optics/colour",
	"study/power":       "study study/acceptance study/series",
	"study/scenario":    "study study/power protocols/fields optics optics/solar",
	"study/desk": "study/shape study/population study/power study/scenario protocols/fields " +
		"study/cleaning " +
		"study/service " +
		"study/transfer " +
		"study/gauge study/difference study/population study/tint optics/colour " +
		"study/cause study/acceptance " +
		"study study/store study/table study/intake study/intake/placing study/intake/sheet study/intake/source " +
		"study/intake/text study/evaluate study/guard study/ageing study/life fit/film fit optics protocols study/bench study/series " +
		"study/intake/workbook",
	"study/desk/demo": "study study/desk study/scenario study/intake/source study/ageing",
	"cmd/wane": "study/shape study/power study/scenario " +
		"study/cleaning " +
		"study/service " +
		"study/transfer " +
		"study/gauge " +
		"study/cause " +
		"study study/table study/shown study/drawn study/web study/desk study/desk/demo study/report " +
		"study/intake/source study/intake/text study/evaluate " +
		"study/guard study/ageing fit/film fit optics protocols study/bench study/report/paper study/report/document " +
		"study/acceptance study/series " +
		"study/population study/difference study/tint optics/colour",
	"study/report/paper":    "study",
	"study/report/document": "study/report/paper",

	// The inner rooms of intake: they know neither its reader nor the study file.
	"study/intake/text":          "study",
	"study/intake/text/texttest": "study",
	"study/intake/workbook":      "study study/intake/text",
	"study/intake/source":        "study study/intake/text study/intake/workbook",
	"study/intake/jcamp":         "study study/intake/text",
	"study/intake/heading":       "study study/intake/text",
	"study/intake/sheet":         "study study/intake/text study/intake/workbook",
	"study/intake/placing":       "study study/intake/text study/intake/heading study/intake/sheet",

	"optics/internal/figures":   "",
	"testdata/exports/generate": "optics optics/internal/*",
	"testdata/foreign":          "",
}

// The arrows of the design: nothing imports what is above it, SQL lives in study/store
// alone, and data frames in study/frame.
func TestImportArrows(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", "{{.ImportPath}}: {{join .Imports \" \"}}", "wane/...").Output()
	require.NoError(t, err)
	imports := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		pkg, list, ok := strings.Cut(strings.TrimSpace(line), ":")
		require.True(t, ok)
		imports[pkg] = strings.Fields(list)
	}
	require.Contains(t, imports, "wane/optics")
	for pkg, list := range imports {
		name, ours := strings.CutPrefix(pkg, "wane/")
		if !ours {
			continue
		}
		assert.Contains(t, arrows, name, "a package without arrows")
		for _, imported := range list {
			if imported == "database/sql" || imported == "modernc.org/sqlite" {
				assert.Equal(t, "study/store", name, "SQL outside study/store")
			}
			if strings.HasPrefix(imported, "github.com/go-gota/") {
				assert.Equal(t, "study/frame", name, "data frames outside study/frame")
			}
			target, own := strings.CutPrefix(imported, "wane/")
			if own {
				assert.True(t, permitted(target, arrows[name]), "%s imports %s", name, target)
			}
		}
	}
}

func permitted(target, allowed string) bool {
	for _, a := range strings.Fields(allowed) {
		if prefix, tree := strings.CutSuffix(a, "*"); a == target || tree && strings.HasPrefix(target, prefix) {
			return true
		}
	}
	return false
}
