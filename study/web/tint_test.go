package web_test

import (
	"bytes"
	"encoding/csv"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics/colour"
	"wane/study/desk"
	"wane/study/shown"
	"wane/study/tint"
	"wane/study/web"
)

// spotBesideSheet is a picture whose left half has one colour and whose right half another one.
func spotBesideSheet(spot, sheet color.NRGBA) []byte {
	p := image.NewNRGBA(image.Rect(0, 0, 80, 40))
	for x := range 80 {
		for y := range 40 {
			p.SetNRGBA(x, y, spot)
			if x >= 40 {
				p.SetNRGBA(x, y, sheet)
			}
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, p); err != nil {
		panic(err) // a buffer takes everything
	}
	return out.Bytes()
}

func rowsOfCSV(t *testing.T, text string) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// The card of a page is that of the desk, and its figure is there.
func TestTintCard(t *testing.T) {
	d := evaluated(t)
	s := serve(t, d, web.Options{})
	page := s.awaited("/tint", "The films as they are now")
	assert.Contains(t, page, `<img class="drawn" src="/tint.svg?light=D65"`)
	assert.Contains(t, page, `<a class="topic" href="/guide/reading-tints">`)
	card, err := d.TintCard(t.Context(), &desk.TintOptions{Light: colour.Lights[0], Most: 24, Angles: []float64{8}})
	require.NoError(t, err)
	rows := rowsOfCSV(t, s.get("/tint.csv?light="+card.Light.String()+"&angles=8").body)
	require.Len(t, rows, len(card.Films))
	for i, of := range shown.TintRows(card) {
		nm, err := strconv.ParseFloat(rows[i]["thickness_nm"], 64)
		require.NoError(t, err)
		assert.InDelta(t, of.ThicknessNM, nm, 1e-6)
	}
	assert.True(t, strings.HasPrefix(s.get("/tint.pdf?angles=8").body, "%PDF"))
	for query, says := range map[string]string{
		"angles=95":                         "95 is no number from 0 to 89.9",
		"angles=1,2,3,4,5,6,7,8,9":          "9 angles are too many",
		"light=moon":                        "there is no light moon",
		"coating=nothing":                   "no coating nothing is enrolled",
		"lab=1,2,3":                         "a measured tint is of one angle",
		"angles=8&lab=0,2,3":                "L* must be above 0",
		"angles=8&lab=1,2":                  "there are 2 numbers, and 3 are needed",
		"angles=8&lab=1,2,3&spread=0":       "the spread must be above 0",
		"angles=8&rgb=1,2,3&sheet=20,20,20": "is none: a part of it is 20 of 255",
	} {
		got := s.get("/tint?" + query)
		assert.Equal(t, http.StatusOK, got.StatusCode, query)
		assert.Contains(t, got.body, says, query)
		assert.Contains(t, got.body, "Try:", query)
		assert.Contains(t, got.body, `id="lab-form"`, "%s: the form is there to be put right", query)
	}
	assert.Contains(t, serve(t, newStudy(t), web.Options{}).awaited("/tint", "no film is known"), `and run <a href="/fit">wane fit</a>`)
}

// A picture says what the desk says of it, also where the study can only be read, and nothing of it is kept: the address
// to which it leads has the tint.
func TestTintOfAPicture(t *testing.T) {
	d := evaluated(t)
	s := serve(t, d, web.Options{ReadOnly: true})
	picture := spotBesideSheet(color.NRGBA{61, 70, 120, 255}, color.NRGBA{230, 228, 221, 255})
	opt := &desk.TintOptions{Light: colour.Lights[0], Angles: []float64{8}}
	fields := []string{"light", opt.Light.String(), "angles", "8", "spread", "1.5", "spot", "4,4,32,32", "sheet-area", "44 4 32 32"}
	measured, err := desk.TintOfPicture("", bytes.NewReader(picture), tint.Area{X: 4, Y: 4, Width: 32, Height: 32},
		tint.Area{X: 44, Y: 4, Width: 32, Height: 32}, opt.Light, 1.5)
	require.NoError(t, err)
	want, err := d.TintMatches(t.Context(), opt, measured)
	require.NoError(t, err)

	got := s.send("/tint", "/tint", map[string]string{"roof.png": string(picture)}, fields...)
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	at, err := url.Parse(got.Header.Get("Location"))
	require.NoError(t, err)
	s.awaited(at.String(), "Thicknesses that cannot be excluded")
	rows := rowsOfCSV(t, s.get("/tint.csv?"+at.RawQuery).body)
	all, _ := shown.TintMatchRows(want)
	require.Len(t, rows, len(all))
	for i, of := range want {
		nm, err := strconv.ParseFloat(rows[i]["nearest_nm"], 64)
		require.NoError(t, err)
		assert.InDelta(t, of.Nearest.Nearest.ThicknessNM, nm, 1, "the step of the search, since an address has four decimals")
	}

	for says, bad := range map[string][]byte{"it is no picture": []byte("nothing"), "breaks off": picture[:len(picture)/2]} {
		got := s.send("/tint", "/tint", map[string]string{"roof.png": string(bad)}, fields...)
		assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode)
		assert.Contains(t, got.body, says)
	}
	dark := spotBesideSheet(color.NRGBA{61, 70, 120, 255}, color.NRGBA{30, 28, 21, 255})
	assert.Contains(t, s.send("/tint", "/tint", map[string]string{"roof.png": string(dark)}, fields...).body, "lay a sheet of white paper")
	assert.Contains(t, s.send("/tint", "/tint", nil, fields...).body, "no picture is chosen")
	fields[9] = "44,4,400,32"
	assert.Contains(t, s.send("/tint", "/tint", map[string]string{"roof.png": string(picture)}, fields...).body,
		"does not lie in the picture")
	assert.Equal(t, http.StatusForbidden, s.do("POST", "/tint", "angles=8").StatusCode, "a form without the token of the session")
}
