package placing_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text"
)

// An export whose name says nothing, and whose header says all. Made up.
const headed = "Sample:\tAU-02  pull 3,,\n\"Spot 07\"\nAngle of incidence: 57,5 deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n700,1.9\n"

const byHeader = `profile: bench-1
header:
  - "Sample: {coupon} pull {pull:number}"
  - "Spot {spot:number}"
  - "Angle of incidence: {angle} deg"
curves:
  - column: "#2"
    coupon: "{coupon}"
    pull: "{pull}"
    spot: "{spot}"
    angle: "{angle}"
    polarisation: u
`

// placeBy places the curves of an export by a profile.
func placeBy(t *testing.T, profile, path, export string) (placed []placing.Placed, err error) {
	t.Helper()
	p, err := placing.ReadProfile("b.yaml", []byte(profile))
	require.NoError(t, err)
	lines, err := p.Rules().For(path)
	if err != nil {
		return nil, err
	}
	x, err := intake.Read(path, []byte(export), text.Stated{Decimal: "point"})
	require.NoError(t, err)
	if lines, err = placing.WithHeader(lines, x.Header); err != nil {
		return nil, err
	}
	placed, _, err = placing.Place(lines, x.Spectra, x.Skipped)
	return placed, err
}

func TestHeaderPlacesCurves(t *testing.T) {
	placed, err := placeBy(t, byHeader, "scan0001.csv", headed)
	require.NoError(t, err)
	require.Len(t, placed, 1)
	assert.Equal(t, "AU-02", placed[0].Row.Coupon)
	assert.Equal(t, 3, placed[0].Row.Pull)
	assert.Equal(t, "7", placed[0].Row.Spot, "a number has no zeros in front")
	assert.Equal(t, 57.5, placed[0].Row.AngleDeg)
}

func TestHeaderRefuses(t *testing.T) {
	for _, c := range []struct{ name, export, words string }{
		{"no line", "Probe: AU-02 pull 3\nSpot 7\nAngle of incidence: 8 deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n",
			`b.yaml:3: no line of the header of scan0001.csv fits "Sample: {coupon} pull {pull:number}"`},
		{"no number", "Sample: AU-02 pull three\nSpot 7\nAngle of incidence: 8 deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n",
			"b.yaml:3: no line of the header"},
		{"two lines", "Sample: AU-02 pull 3\nSpot 7\nSpot 8\nAngle of incidence: 8 deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n",
			`b.yaml:4: two lines of the header of scan0001.csv fit "Spot {spot:number}", and say different things`},
		{"no angle", "Sample: AU-02 pull 3\nSpot 7\nAngle of incidence: 8 deg 9 deg deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n",
			`b.yaml:11: angle of scan0001.csv: "8 deg 9 deg" is not a number`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := placeBy(t, byHeader, "scan0001.csv", c.export)
			assert.ErrorContains(t, err, c.words)
		})
	}
	same := "Sample: AU-02 pull 3\nSpot 7\nSpot 07\nAngle of incidence: 8 deg\nnm,%R\n400,2.1\n500,1.9\n600,1.8\n"
	_, err := placeBy(t, byHeader, "scan0001.csv", same)
	assert.NoError(t, err, "two lines say the same")
}

func TestHeaderIsChecked(t *testing.T) {
	for _, c := range []struct{ name, header, words string }{
		{"no list", "header: \"Sample: {coupon}\"\n", "b.yaml:2: header has no list of lines"},
		{"no gap", "header:\n  - \"Sample\"\n", `b.yaml:3: the line of the header "Sample" catches nothing`},
		{"a gap twice", "header:\n  - \"Sample {a}\"\n  - \"Probe {a}\"\n", "b.yaml:4: {a} is caught twice"},
		{"in files too", "files: \"{a}.csv\"\nheader:\n  - \"Sample {a}\"\n", "b.yaml:4: {a} is caught twice"},
		{"another kind", "header:\n  - \"Sample {a:digits}\"\n", "b.yaml:3: header: {a:digits} is neither {a} nor {a:number}"},
		{"in column too",
			"header:\n  - \"Sample {a}\"\ncurves:\n  - {column: \"{a} deg\", coupon: x, pull: 0, spot: 1, angle: 8, polarisation: u}\n",
			"b.yaml:5: {a} is caught by header and by column"},
		{"a kind in a field",
			"files: \"{a}.csv\"\ncurves:\n  - {column: \"#2\", coupon: x, pull: 0, spot: \"{a:number}\", angle: 8, polarisation: u}\n",
			"b.yaml:4: spot: :number belongs into a pattern"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := placing.ReadProfile("b.yaml", []byte("profile: bench-1\n"+c.header))
			assert.ErrorContains(t, err, c.words)
		})
	}
}

// Digits settle what text alone leaves open.
func TestNumbersInNames(t *testing.T) {
	const curves = "curves:\n  - {column: \"#2\", coupon: \"{coupon}\", pull: 0, spot: \"{spot}\", angle: 8, polarisation: u}\n"
	const export = "nm,%R\n400,2.1\n500,1.9\n600,1.8\n"
	for _, c := range []struct{ files, path, coupon, spot, fault string }{
		{"{coupon}-{spot}.csv", "AU-02-1.csv", "", "", "in more than one way"},
		{"{coupon}-{spot:number}.csv", "AU-02-1.csv", "AU-02", "1", ""},
		{"{coupon}-{spot:number}.csv", "AU-02-010.csv", "AU-02", "10", ""},
		{"{coupon}-{spot:number}.csv", "AU-02-0.csv", "AU-02", "0", ""},
		{"{coupon}-{spot:number}-*.csv", "AU-x-1-b.csv", "AU-x", "1", ""},
		{"{coupon}-{spot:number}-*.csv", "AU-2-1-b.csv", "", "", "in more than one way"},
		{"*-{coupon}-{spot:number}.csv", "x-y-A-1.csv", "", "", "in more than one way"},
	} {
		t.Run(c.files+" "+c.path, func(t *testing.T) {
			placed, err := placeBy(t, "profile: b\nfiles: \""+c.files+"\"\n"+curves, c.path, export)
			switch {
			case c.fault != "":
				assert.ErrorContains(t, err, c.fault)
			default:
				require.NoError(t, err)
				require.Len(t, placed, 1)
				assert.Equal(t, c.coupon, placed[0].Row.Coupon)
				assert.Equal(t, c.spot, placed[0].Row.Spot)
			}
		})
	}
	p, err := placing.ReadProfile("b.yaml", []byte("profile: b\nfiles: \"{coupon}-{spot:number}.csv\"\n"))
	require.NoError(t, err)
	assert.False(t, p.Matches("AU-02-x.csv"))
}
