package web_test

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/web"
)

// evaluated makes a study of two pulls of a coupon, whose code a page must escape, with made-up exports.
func evaluated(t testing.TB) *desk.Desk {
	t.Helper()
	d, path := studyAt(t, strings.ReplaceAll(coupons, "<script>alert(1)</script>", "A<b>1"), exposures, pulls)
	folder := filepath.Dir(path)
	table := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"
	for pull, from := range []string{"g07-fresh.csv", "g07-patchy.csv"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "exports", from))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(folder, from), data, 0o600))
		for i, angle := range []string{"8", "30"} {
			table += from + ",#" + string(rune('2'+i)) + ",A<b>1," + string(rune('0'+pull)) + ",1," + angle + ",u,R,percent\n"
		}
	}
	require.NoError(t, os.WriteFile(filepath.Join(folder, "map.csv"), []byte(table), 0o600))
	in, err := d.Intake(t.Context(), filepath.Join(folder, "map.csv"), nil, desk.IntakeOptions{})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	_, err = d.Fit(t.Context(), desk.FitOptions{Workers: 1})
	require.NoError(t, err)
	return d
}

func TestPagesOfAnEvaluatedStudy(t *testing.T) {
	s := serve(t, evaluated(t), web.Options{})
	const coupon = "/coupons/A%3Cb%3E1"
	for path, says := range map[string]string{
		"/today": "coupons", "/coupons": "pulls read", coupon: "Results", coupon + "/spectra": "4 readings",
		"/coatings":           "coating",
		coupon + "/structure": "Thickness / nm", coupon + "/material": "Material left", coupon + "/fit": "/fit.svg",
		"/coatings/compare": "Comparison", "/rules": "no rule", "/sessions": "No session", "/log": "evaluated 2 spots",
	} {
		got := s.get(path)
		assert.Equal(t, http.StatusOK, got.StatusCode, path)
		assert.Contains(t, got.body, says, path)
		assert.NotContains(t, got.body, "A<b>", path)
		assert.NotRegexp(t, `(?i)<style|\sstyle=|\son[a-z]+=|javascript:`, got.body, path)
		assert.Less(t, len(got.body), 500_000, path)
		assert.NotContains(t, strings.ReplaceAll(got.body, "{{", ""), "NaN", path)
	}
	t.Run("files", func(t *testing.T) { filesOfPages(t, s, coupon) })
}

// filesOfPages checks what stands in files, against what the desk says.
func filesOfPages(t *testing.T, s *served, coupon string) {
	rows, err := csv.NewReader(strings.NewReader(s.get(coupon + ".csv").body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 3, "a row for each pull")
	assert.Equal(t, "coupon", rows[0][0])
	assert.Equal(t, "A<b>1", rows[1][0])

	var spectra []struct {
		Pull  int       `json:"pull"`
		Angle float64   `json:"angle_deg"`
		NM    []float64 `json:"wavelength_nm"`
		Value []float64 `json:"value"`
	}
	require.NoError(t, json.Unmarshal([]byte(s.get(coupon+"/spectra.json?angle=30").body), &spectra))
	require.Len(t, spectra, 2)
	assert.Equal(t, 30.0, spectra[1].Angle)
	assert.Equal(t, len(spectra[1].NM), len(spectra[1].Value))
	whole := len(spectra[1].NM)
	require.NoError(t, json.Unmarshal([]byte(s.get(coupon+"/spectra.json?angle=30&thin=60").body), &spectra))
	assert.Less(t, len(spectra[1].NM), whole)
	assert.LessOrEqual(t, len(spectra[1].NM), 60)

	for path, begins := range map[string]string{coupon + "/structure.svg": "<?xml", coupon + "/structure.png": "\x89PNG",
		coupon + "/structure.pdf": "%PDF", coupon + "/fit.svg?pull=1": "<?xml", coupon + "/pulls.svg": "<?xml"} {
		got := s.get(path)
		assert.Equal(t, http.StatusOK, got.StatusCode, path)
		assert.True(t, strings.HasPrefix(got.body, begins), path)
	}
	assert.Equal(t, http.StatusNotFound, s.get(coupon+"/spectra.pdf").StatusCode, "there is no such file")
}

// In a CSV file a code that a program for tables would take for a formula is written as a text.
func TestFormulasInCodes(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	assert.Contains(t, s.get("/coupons.csv").body, "\n'=cmd|x,")
	assert.Contains(t, s.get("/coupons").body, "<bdi>=cmd|x</bdi>")
}

// A dot in a code is no ending of a file.
func TestCodesLikeFiles(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	page := s.get("/coupons").body
	assert.Contains(t, page, `href="/coupons/a%2Ecsv"`)
	assert.Contains(t, s.get("/coupons/a%2Ecsv").body, "<h1><bdi>a.csv</bdi></h1>")
	assert.Equal(t, http.StatusNotFound, s.get("/coupons/a.csv").StatusCode, "coupon a, as CSV")
}

func TestChoosingCoupons(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	assert.Contains(t, s.get("/coupons?find=a0").body, "1 to 2 of 2 found among 5 coupons")
	assert.Contains(t, s.get("/coupons?exposure=rack").body, "1 to 4 of 4 found")
	assert.Contains(t, s.get("/coupons?coating=nothing").body, "None of the 5 coupons")
	assert.Contains(t, s.get("/coupons?attention=overdue&part=99999999999999999999").body, "of 5 coupons",
		"all are overdue")
}

func TestAnEmptyStudy(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	for _, path := range []string{"/today", "/coupons", "/coatings", "/coatings/compare", "/rules", "/sessions", "/log",
		"/guide"} {
		assert.Equal(t, http.StatusOK, s.get(path).StatusCode, path)
	}
	got := s.get("/coupons/A01")
	assert.Equal(t, http.StatusNotFound, got.StatusCode)
	assert.Contains(t, got.body, "is not enrolled")
	assert.Contains(t, got.body, "Try:")
}

func TestTopicsOfTheGuide(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{Guide: []web.Topic{
		{Name: "one",
			Text: "# The first\n\nText with <script>alert(1)</script> and [two](two.md) and [bad](javascript:alert(1)).\n\n" +
				"## Part\n\n| a | b |\n|---|---|\n| 1 | 2 |\n"}, {Name: "two", Text: "# The second\n"}}})
	assert.Contains(t, s.get("/guide").body, `href="/guide/one"`)
	body := s.get("/guide/one").body
	assert.Contains(t, body, "<h1><bdi>The first</bdi></h1>")
	assert.Contains(t, body, `<a href="/guide/two">`)
	assert.Contains(t, body, "<td>1</td>")
	assert.NotContains(t, body, "<script>alert")
	assert.NotContains(t, body, "javascript:")
	assert.Contains(t, s.get("/guide/tow").body, "two", "a topic that is near")
}

// What is written while the pages are open is there when they are loaded again.
func TestPagesFollowTheStudy(t *testing.T) {
	d, path := studyAt(t, exposures, pulls)
	s := serve(t, d, web.Options{})
	assert.Contains(t, s.get("/coupons").body, "No coupon is enrolled yet")
	roster := filepath.Join(filepath.Dir(path), "more.csv")
	require.NoError(t, os.WriteFile(roster, []byte(coupons), 0o600))
	_, err := d.Enrol(t.Context(), []string{roster})
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		return strings.Contains(s.get("/coupons").body, "of 5 coupons")
	}, 10e9, 10e6)
}
