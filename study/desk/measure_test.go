package desk

import (
	"context"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

const measuredHeader = "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"

func TestMeasure(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.write("tables/pics/edge.png", "\x89PNG made up\x00\xff")
	first := f.write("tables/gauges.csv", measuredHeader+
		"E1,0,1,thickness,118.4,0.8,nm,ellipsometer,2026-01-02,ada,pics/edge.png,made up\n"+
		"E1,0,1,thickness,118.4,0.8,nm,ellipsometer,2026-01-02,ada,pics/edge.png,made up\n"+
		"C1,1,,mass,41.2,,g,balance,2026-04-02,,,\n")
	in, err := d.Measure(ctx, []string{first})
	require.NoError(t, err)
	assert.Equal(t, Measured{Files: 1, Rows: 2, Pictures: 1, Known: 1}, *in)
	var last study.Entry
	require.NoError(t, d.Log(ctx, func(e study.Entry) error { last = e; return nil }))
	assert.Equal(t, "measure", last.Verb)
	assert.Equal(t, "took in 2 measurements with 1 picture; coupons C1, E1; tables gauges.csv", last.Summary)
	assert.Regexp(t, `^wane.*, model \d+, reader \d+, go`, last.Software)

	before := dump(t, d)
	in, err = d.Measure(ctx, []string{first})
	require.NoError(t, err)
	assert.Equal(t, Measured{Known: 3}, *in)
	assert.Equal(t, before, dump(t, d), "the same again adds nothing")

	v, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v.Store.Findings)
}

// A refused table adds nothing, and the other tables are taken in.
func TestMeasureRefuses(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	row := func(cells string) string { return "E1,0,1,thickness," + cells + "\n" }
	good := row("118.4,0.8,nm,ellipsometer,2026-01-02,ada,,")
	_, err := d.Measure(ctx, []string{f.write("first.csv", measuredHeader+good)})
	require.NoError(t, err)
	f.write("empty.png", "")
	require.NoError(t, os.Mkdir(f.path+"/folder.png", 0o755))
	before := dump(t, d)
	for _, c := range []struct{ name, text, place, fault string }{
		{"no rows", "", "", "the table has no rows"},
		{"another value", good + row("118.5,0.8,nm,ellipsometer,2026-01-02,ada,,"), ":3",
			"value was 118.4, and here it is 118.5"},
		{"two values for one", row("1,,nm,a,2026-01-03,,,") + row("2,,nm,a,2026-01-03,,,"), ":3",
			"value was 1, and here it is 2"},
		{"a coupon that is not enrolled", row("1,,nm,a,2026-01-03,,,") + "E9,0,1,haze,1,,percent,a,2026-01-03,,,\n", ":3",
			`coupon "E9" is not enrolled`},
		{"a pull that is not planned", "E1,7,1,haze,1,,percent,a,2026-01-03,,,\n", ":2",
			"pull 7 is not planned for the exposure roof (coupon E1)"},
		{"a picture that is not there", row("1,,nm,a,2026-01-03,,,") + row("3,,nm,a,2026-01-04,,pics/no.png,"), ":3",
			"picture " + f.path + "/pics/no.png: there is no such file"},
		{"an empty picture", row("3,,nm,a,2026-01-04,,empty.png,"), ":2",
			"picture " + f.path + "/empty.png: the file is empty"},
		{"a picture that is a folder", row("3,,nm,a,2026-01-04,,folder.png,"), ":2",
			"picture " + f.path + "/folder.png: could not read the file"},
		{"another unit", row("0.118,,um,a,2026-01-04,,,"), ":2", "thickness is in nm here"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := f.write("bad.csv", measuredHeader+c.text)
			in, err := d.Measure(ctx, []string{path})
			require.NoError(t, err)
			require.Len(t, in.Refused, 1)
			assert.Contains(t, in.Refused[0].Error(), path+c.place+": ")
			assert.Contains(t, in.Refused[0].Error(), c.fault)
			assert.NotEmpty(t, in.Refused[0].(*study.Refusal).Try)
			assert.Equal(t, before, dump(t, d))
		})
	}
	in, err := d.Measure(ctx, []string{f.path + "/none.csv", f.path + "/bad.csv",
		f.write("late.csv", measuredHeader+row("3,,nm,a,2026-01-04,,,"))})
	require.NoError(t, err)
	assert.Len(t, in.Refused, 2)
	assert.Equal(t, 1, in.Rows)

	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, err = d.Measure(gone, []string{f.path + "/late.csv"})
	assert.ErrorIs(t, err, context.Canceled)
}

// The thickness beside a row is that of the spot, or without one that of the coupon as a whole, in the
// condition of the row or where either names no condition.
func TestResultsBeside(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	f.export("b.csv", 110, 0, 2)
	f.export("c.csv", 119, 0, 3)
	const header = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,condition\n"
	m := f.write("map.csv", header+"a.csv,#2,E1,0,1,8,u,R,percent,cleaned\na.csv,#3,E1,0,1,60,u,R,percent,cleaned\n"+
		"b.csv,#2,E1,1,1,8,u,R,percent,cleaned\nb.csv,#3,E1,1,1,60,u,R,percent,cleaned\n"+
		"c.csv,#2,C1,0,1,8,u,R,percent,\nc.csv,#3,C1,0,1,60,u,R,percent,\n")
	_, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	in, err := d.Measure(ctx, []string{f.write("gauges.csv", "condition,"+measuredHeader+
		",E1,0,1,thickness,118,0.5,nm,ellipsometer,2026-01-02,,,\n"+
		"cleaned,E1,0,1,thickness,121,,nm,profilometer,2026-01-02,,,\n"+
		"as_found,E1,0,1,thickness,999,,nm,profilometer,2026-01-02,,,soiled\n"+ // another condition
		",E1,0,2,thickness,998,,nm,ellipsometer,2026-01-02,,,\n"+ // another spot
		",E1,0,,thickness,997,,nm,ellipsometer,2026-01-02,,,\n"+ // the spot itself was measured
		",E1,0,1,haze,1,,percent,haze meter,2026-01-02,,,\n"+
		"as_found,C1,0,,thickness,118.5,2,nm,ellipsometer,2026-01-02,,,\n")})
	require.NoError(t, err)
	require.Empty(t, in.Refused)

	fitted := map[string]study.Measure{}
	for _, r := range results(t, d) {
		fitted[r.Coupon+r.Condition+string(rune('0'+int(r.Pull)))] = r.Thickness
	}
	type row struct {
		coupon string
		pull   int
		method string
		value  float64
	}
	var got []row
	require.NoError(t, d.ResultsBeside(ctx, ResultsOptions{}, func(r *study.Result, i *Independent) error {
		g := row{r.Coupon, int(r.Pull), i.Method, -1}
		if i.Thickness.Value.Valid() {
			g.value = float64(i.Thickness.Value)
			of := fitted[r.Coupon+r.Condition+string(rune('0'+int(r.Pull)))]
			assert.Equal(t, of.Value-i.Thickness.Value, i.Difference.Value)
			assert.Equal(t, i.Thickness.U.Valid(), i.Difference.U.Valid())
			if i.Thickness.U.Valid() { // by the squares, as the root is taken of them
				assert.InDelta(t, float64(of.U*of.U+i.Thickness.U*i.Thickness.U), float64(i.Difference.U*i.Difference.U), 1e-12)
				assert.Greater(t, i.Difference.U, i.Thickness.U)
			}
		} else {
			assert.False(t, i.Difference.Value.Valid() || i.Difference.U.Valid())
		}
		got = append(got, g)
		return nil
	}))
	assert.Equal(t, []row{{"C1", 0, "ellipsometer", 118.5}, {"E1", 0, "ellipsometer", 118},
		{"E1", 0, "profilometer", 121}, {"E1", 1, "", -1}}, got)
}
