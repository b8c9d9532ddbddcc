package web_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/web"
)

// Results in other light on the page are those of the desk; nothing is written.
func TestResultsInOtherLight(t *testing.T) {
	d := evaluated(t)
	s := serve(t, d, web.Options{ReadOnly: true})
	head := headOf(t, d)
	var want []*desk.LitRow
	err := d.ResultsInLight(t.Context(), desk.ResultsOptions{}, []evaluate.Light{evaluate.LightAt(60)}, nil,
		func(r *desk.LitRow) error { want = append(want, r); return nil })
	require.NoError(t, err)
	require.NotEmpty(t, want)

	assert.Contains(t, s.get(madeUp).body, `<a href="/light?coupon=A%3Cb%3E1">`)
	tables := map[string]string{"year.csv": "incidence_deg,beam\n20,600\n60,300\n", "cell.csv": "wavelength_nm,response\n400,0.5\n1000,0.9\n"}
	got := s.send("/light", "/light", tables, "at", "60", "diffuse", "yes", "coupon", "A<b>1")
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	page := s.awaited("/light", "Worked out last")
	for _, says := range []string{"60deg: AM1.5 global, unpolarised, at 60 degrees from the normal", "as year.csv says",
		"the response of cell.csv", "<bdi>A&lt;b&gt;1</bdi>"} {
		assert.Contains(t, page, says)
	}
	rows := rowsOfCSV(t, s.get("/light.csv").body)
	require.Len(t, rows, len(want))
	for i, r := range want {
		for name, of := range map[string]float64{"T_60deg": float64(r.In[0].Row.SolarT.Value), "u_T_60deg": float64(r.In[0].Row.SolarT.U)} {
			v, err := strconv.ParseFloat(rows[i][name], 64)
			require.NoError(t, err)
			assert.InDelta(t, of, v, 1e-12, name)
		}
		for _, name := range []string{"T_diffuse", "T_annual", "current_change_percent", "modifier_60deg"} {
			assert.Contains(t, rows[i], name)
		}
	}
	assert.Len(t, rowsOfCSV(t, s.get("/light.csv?coupon=nothing").body), 0)
	assert.Equal(t, head, headOf(t, d), "nothing is written")
}

// What is no light is refused before anything is worked out.
func TestLightsThatAreNone(t *testing.T) {
	s := serve(t, evaluated(t), web.Options{})
	for says, values := range map[string][]string{
		"no light is named":               {},
		"90 is no number from 0 to 89.99": {"at", "90"},
		"the band gap is no number: much": {"band-gap", "much"},
		"21 lights are too many":          {"at", "1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19,20,21"},
		"more than one device, or more":   {"band-gap", "1.12", "file", "wavelength_nm,response\n400,0.5\n1000,0.9\n"},
		"light.csv":                       {"file", "incidence_deg,beam\n95,1\n"},
		"silicon has about 1.12 eV":       {"band-gap", "40"},
	} {
		files := map[string]string{}
		for i := 0; i+1 < len(values); i += 2 {
			if values[i] == "file" {
				files["light.csv"] = values[i+1]
			}
		}
		got := s.send("/light", "/light", files, values...)
		assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode, says)
		assert.Contains(t, got.body, says)
	}
	assert.Contains(t, s.get("/light").body, `id="light-form"`)
	assert.NotContains(t, s.get("/light").body, "Worked out last")
	assert.Equal(t, http.StatusNotFound, s.get("/light/progress").StatusCode)
	assert.Equal(t, http.StatusForbidden, s.do("POST", "/light", strings.Repeat("a", 8)+"=1").StatusCode)
}
