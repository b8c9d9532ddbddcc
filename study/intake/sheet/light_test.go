package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

func TestReadIncidence(t *testing.T) {
	got, err := ReadIncidence("year.csv", []byte("# made up\nIncidence_deg;beam\n20;600\n60,5;300\n95;0\n"))
	require.NoError(t, err)
	assert.Equal(t, &Incidence{AngleDeg: []float64{20, 60.5}, Beam: []float64{600, 300}}, got)

	got, err = ReadIncidence("hours.csv", []byte("datetime,incidence_deg,beam,diffuse\n2031-06-21T03:00,,0,0\n"+
		"2031-06-21T04:00,120,0,10\n2031-06-21 12:00,20,800,100\n2031-06-21T13:00,20,700,90\n"))
	require.NoError(t, err)
	assert.Equal(t, &Incidence{AngleDeg: []float64{20, 20}, Beam: []float64{800, 700}, Diffuse: 200}, got)

	for text, want := range map[string]string{
		"incidence,beam\n20,1\n":                  `there is no column "incidence" here`,
		"incidence_deg\n20\n":                     "the column beam is missing",
		"incidence_deg,beam\n":                    "there is no light in the table",
		"incidence_deg,beam\n20,0\n":              "there is no light in the table",
		"incidence_deg,beam\n20,-1\n":             "column beam: -1 is outside 0 to 1e+09",
		"incidence_deg,beam\n-20,1\n":             "column incidence_deg: -20 is outside 0 to 180 degrees",
		"incidence_deg,beam\n20,1\n20,1\n":        "column incidence_deg: 20 stands in line 2 already",
		"incidence_deg,beam\n90,1\n":              "column beam: there is light at an incidence of 90 degrees or more",
		"incidence_deg,beam\n,1\n":                "column incidence_deg: the cell is empty, but there is light",
		"datetime,incidence_deg,beam\n,1,1\n":     "column datetime: the cell is empty",
		"datetime,incidence_deg,beam\nnoon,1,1\n": `column datetime: "noon" is no time`,
		"datetime,incidence_deg,beam\n2031-06-21T12:00,1,1\n2031-06-21T12:00,1,1\n": "column datetime: 2031-06-21T12:00 is not later than in the row before",
	} {
		_, err := ReadIncidence("year.csv", []byte(text))
		requireRefused(t, err, want, text)
	}
}

func TestReadResponse(t *testing.T) {
	got, err := ReadResponse("cell.csv", []byte("wavelength_nm,response\n400,0.2\n600,0.9\n"))
	require.NoError(t, err)
	assert.Equal(t, &Response{NM: []float64{400, 600}, Share: []float64{0.2, 0.9}}, got)
	for text, want := range map[string]string{
		"wavelength_nm,response\n400,0.2\n":           "a response needs two wavelengths or more",
		"wavelength_nm,response\n400,0\n500,0\n":      "the response is 0 at all wavelengths",
		"wavelength_nm,response\n500,0.2\n400,0.2\n":  "column wavelength_nm: 400 is not larger than in the row before",
		"wavelength_nm,response\n400,0.2\n500,\n":     "column response: the cell is empty",
		"wavelength_nm,response\n400,0.2\n500,-0.1\n": "column response: -0.1 is outside 0 to 1e+06",
		"wavelength_nm,response\n0.4,0.2\n1.1,0.2\n":  "the wavelengths end at 1.1: they are no nm",
		"wavelength,response\n400,0.2\n":              `there is no column "wavelength" here`,
	} {
		_, err := ReadResponse("cell.csv", []byte(text))
		requireRefused(t, err, want, text)
	}
}

func requireRefused(t *testing.T, err error, want, text string) {
	t.Helper()
	var refused *study.Refusal
	require.ErrorAs(t, err, &refused, text)
	assert.Contains(t, refused.Fault, want, text)
	assert.NotEmpty(t, refused.Try, text)
}
