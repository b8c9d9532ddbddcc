package desk

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// Rosters that contradict themselves or the study are refused with the line, and the study does not
// change.
func TestEnrolRefuses(t *testing.T) {
	for _, c := range []struct{ name, file, text, fault string }{
		{"repeated coupon that differs", "c.csv", couponHeader +
			"E9,exposed,m,K,1,soda-lime,,matched,roof\nE9,exposed,m,K,2,soda-lime,,matched,roof\n", "c.csv:3: "},
		{"water-repellent or not", "c.csv", strings.TrimSuffix(couponHeader, "\n") +
			",water_repellent\nE9,exposed,m,K,1,soda-lime,,matched,roof,no\n",
			`c.csv:2: column water_repellent: "no" is not one of yes`},
		{"a water-repellent blank", "c.csv", strings.TrimSuffix(couponHeader, "\n") +
			",water_repellent\nB9,blank,,,,soda-lime,,matched,,yes\n",
			"c.csv:2: column water_repellent: a blank has no coating"},
		{"water-repellent only now", "c.csv", strings.TrimSuffix(couponHeader, "\n") +
			",water_repellent\nE1,exposed,m,K,1,soda-lime,3.2,matched,roof,yes\n", "c.csv:2: "},
		{"differing re-enrolment", "c.csv", couponHeader + "E1,exposed,m,other,1,soda-lime,3.2,matched,roof\n", "c.csv:2: "},
		{"an exposure that is not enrolled", "c.csv", couponHeader + "E9,exposed,m,K,1,soda-lime,,matched,desert\n",
			`c.csv:2: coupon E9: there is no exposure "desert"`},
		{"pull of no exposure", "p.csv", pullHeader + "desert,0,0,\n", `p.csv:2: pull 0: there is no exposure "desert"`},
		{"dose that does not rise", "p.csv", pullHeader + "roof,2,80,2026-07-01\n",
			"p.csv:2: exposure roof: the dose 80 of pull 2 is not above the 90 of pull 1"},
		{"dose at pull 0", "p.csv", pullHeader + "roof,0,5,2026-01-01\n", "p.csv:2: column dose: pull 0 is before exposure"},
		{"unknown column", "c.csv", "coupon,colour\nE9,red\n", `c.csv:1: there is no column "colour" here`},
		{"missing column", "c.csv", "coupon,role\nE9,blank\n", "c.csv:1: the column supplier is missing"},
		{"no roster at all", "c.csv", "apples,pears\n1,2\n", "c.csv:1: this is not the header of a roster"},
		{"unknown role", "c.csv", couponHeader + "E9,spare,m,K,1,soda-lime,,matched,roof\n",
			`c.csv:2: column role: "spare" is not one of`},
		{"blank with a coating", "c.csv", couponHeader + "B9,blank,m,K,1,soda-lime,,matched,\n",
			"c.csv:2: column supplier: a blank has no coating"},
		{"bare far face without thickness", "c.csv", couponHeader + "E9,exposed,m,K,1,soda-lime,,bare,roof\n",
			"c.csv:2: column glass_mm: the far face is bare"},
		{"an unknown glass", "c.csv", couponHeader + "E9,exposed,m,K,1,crystal,,matched,roof\n",
			`c.csv:2: there is no glass "crystal"`},
		{"a batch of an unknown glass", "b.csv", "glass,batch,u_index,model\nsodalime,melt 7,0.01,\n",
			`b.csv:2: there is no glass "sodalime"`},
		{"glass table that is not there", "c.csv", couponHeader + "E9,exposed,m,K,1,./no.csv,,matched,roof\n",
			"no.csv: there is no such file"},
		{"glass table that ends too early", "c.csv", couponHeader + "E9,exposed,m,K,1,./short-glass.csv,,matched,roof\n",
			"known from 300 to 1000 nm only"},
		{"date of another form", "p.csv", pullHeader + "roof,2,180,1.7.2026\n",
			`p.csv:2: column date: "1.7.2026" can be read in two ways: 2026-07-01 or 2026-01-07`},
		{"ragged row", "p.csv", pullHeader + "roof,2,180\n", "p.csv:2: the row does not have the 4 cells of the header"},
		{"empty file", "p.csv", "", "p.csv: the table is empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			d := f.start()
			f.write("short-glass.csv", "wavelength_nm,n,k\n300,1.53,0\n1000,1.51,0\n")
			before := dump(t, d)
			good := f.write("good.csv", exposureHeader+"hall,chamber,nowhere,hours,2026-01-01\n")
			_, err := d.Enrol(context.Background(), []string{good, f.write(c.file, c.text)})
			refused(t, err, c.fault)
			assert.Equal(t, before, dump(t, d), "all files of a call, or none")
		})
	}
}

// If rosters in two folders name different tables by one name, the second is refused.
func TestGlassTablesOfOneName(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	table := func(n string) string { return "wavelength_nm,n,k\n300," + n + ",0\n2500," + n + ",0\n" }
	f.write("g1/sl.csv", table("1.55"))
	f.write("g2/sl.csv", table("1.65"))
	one := f.write("g1/r.csv", couponHeader+"R1,blank,,,,./sl.csv,,matched,\n")
	two := f.write("g2/r.csv", couponHeader+"R2,blank,,,,./sl.csv,,matched,\n")
	before := dump(t, d)
	_, err := d.Enrol(context.Background(), []string{one, two})
	refused(t, err, `r.csv:2: glass "./sl.csv" is known already, with other numbers`)
	assert.Equal(t, before, dump(t, d))
	n, err := d.Enrol(context.Background(), []string{one})
	require.NoError(t, err)
	assert.Equal(t, 1, n.Glasses)
}

// refused asserts a refusal with a fault and something to try.
func refused(t *testing.T, err error, fault string) {
	t.Helper()
	var r *study.Refusal
	require.True(t, errors.As(err, &r), "%v", err)
	assert.Contains(t, err.Error(), fault)
	assert.NotEmpty(t, r.Try)
}

// An identical row adds nothing, in whatever order its columns are.
func TestEnrolAgain(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	before := dump(t, d)
	n, err := d.Enrol(context.Background(), f.rosters())
	require.NoError(t, err)
	assert.True(t, n.None())
	n, err = d.Enrol(context.Background(),
		[]string{f.write("turned.csv", "dose,pull,date,exposure\n90,1,2026-04-01,roof\n")})
	require.NoError(t, err)
	assert.True(t, n.None())
	assert.Equal(t, before, dump(t, d))
}

// A file whose map or export is wrong is refused, and the other files are taken in.
func TestIntakeRefuses(t *testing.T) {
	for _, c := range []struct{ name, rows, fault string }{
		{"a coupon that is not enrolled", rows("bad.csv", "Z9", 0), `map.csv:2: coupon "Z9" is not enrolled`},
		{"a pull that is not planned", rows("bad.csv", "E1", 7),
			"map.csv:2: pull 7 is not planned for the exposure roof (coupon E1)"},
		{"column that is not there", "bad.csv,#9,E1,0,1,8,u,R,percent\n", `map.csv:2: bad.csv has no column "#9"`},
		{"heading that is not there", "bad.csv,45 deg %R,E1,0,1,45,u,R,percent\n",
			`map.csv:2: bad.csv has no column "45 deg %R"`},
		{"file that is not there", rows("nowhere.csv", "E1", 0), "nowhere.csv: there is no such file"},
		{"angle against the heading", "bad.csv,#2,E1,0,1,30,u,R,percent\n",
			`is headed "8 deg %R", but the map says 30 degrees`},
		{"unit against the export", "bad.csv,#2,E1,0,1,8,u,R,fraction\n",
			"the heading says percent, the map's unit says fraction"},
		{"two units for one file", "bad.csv,#2,E1,0,1,8,u,R,percent\nbad.csv,#3,E1,0,1,60,u,R,fraction\n",
			"map.csv:3: this row states fraction for bad.csv, and an earlier one percent"},
		{"one place twice", "bad.csv,#2,E1,0,1,8,u,R,percent\nbad.csv,#3,E1,0,1,60,u,R,percent\n" +
			"bad.csv,#2,E1,0,2,8,u,R,percent\n", "map.csv:4: column #2 of bad.csv has a row in this map already"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			d := f.start()
			f.export("bad.csv", 120, 0, 1)
			f.export("good.csv", 118, 0, 2)
			m := f.write("map.csv", mapHeader+c.rows+rows("good.csv", "C1", 0))
			in, err := d.Intake(context.Background(), m, nil, IntakeOptions{Workers: 2})
			require.NoError(t, err)
			require.Len(t, in.Refused, 1)
			refused(t, in.Refused[0], c.fault)
			assert.Equal(t, 1, in.Files, "the good one is in")
			assert.Equal(t, 2, in.Curves)
		})
	}
	t.Run("map that cannot be read", func(t *testing.T) {
		f := newFolder(t)
		d := f.start()
		for _, c := range []struct{ row, fault string }{
			{"a.csv,#2,E1,0,1,95,u,R,percent", "map.csv:2: column angle_deg: 95 is outside 0 to below 90"},
			{"a.csv,#2,E1,x,1,8,u,R,percent", "map.csv:2: column pull: \"x\" is not a whole number"},
			{"a.csv,#2,E1,0,1,8,q,R,percent", "map.csv:2: column polarisation: \"q\" is not one of"},
			{"a.csv,#2,E1,0,1,8,u,A,percent", "map.csv:2: column quantity: \"A\" is not one of"},
			{"a.csv,#2,,0,1,8,u,R,percent", "map.csv:2: column coupon: the cell is empty"},
		} {
			_, err := d.Intake(context.Background(), f.write("map.csv", mapHeader+c.row+"\n"), nil, IntakeOptions{Workers: 1})
			refused(t, err, c.fault)
		}
	})
	t.Run("map without rows, and a row twice", func(t *testing.T) {
		f := newFolder(t)
		d := f.start()
		_, err := d.Intake(context.Background(), f.write("map.csv", mapHeader), nil, IntakeOptions{Workers: 1})
		refused(t, err, "the map has no rows")
		in, err := d.Intake(context.Background(),
			f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("a.csv", "E1", 0)), nil, IntakeOptions{Workers: 1})
		require.NoError(t, err)
		require.Len(t, in.Refused, 1)
		refused(t, in.Refused[0], "map.csv:4: the row stands in line 2 already")
	})
	t.Run("columns without a row are reported", func(t *testing.T) {
		f := newFolder(t)
		d := f.start()
		f.export("a.csv", 120, 0, 1)
		in, err := d.Intake(context.Background(), f.write("map.csv", mapHeader+"a.csv,#2,E1,0,1,8,u,R,percent\n"), nil,
			IntakeOptions{Workers: 1})
		require.NoError(t, err)
		assert.Equal(t, []Note{{f.path + "/a.csv", `the map has no row for #3 "60 deg %R"; skipped`}}, in.FileNotes)
	})
	t.Run("file without a row", func(t *testing.T) {
		f := newFolder(t)
		d := f.start()
		f.export("good.csv", 120, 0, 1)
		in, err := d.Intake(context.Background(), f.write("map.csv", mapHeader+rows("good.csv", "E1", 0)),
			[]string{f.export("stray.csv", 118, 0, 2)}, IntakeOptions{Workers: 1})
		require.NoError(t, err)
		require.Len(t, in.Refused, 1)
		refused(t, in.Refused[0], "has no row for this file")
		assert.Zero(t, in.Files)
	})
	t.Run("same bytes elsewhere, same place from other bytes", func(t *testing.T) {
		ctx, opt := context.Background(), IntakeOptions{Workers: 1}
		f := newFolder(t)
		d := f.start()
		f.export("a.csv", 120, 0, 1)
		_, err := d.Intake(ctx, f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)), nil, opt)
		require.NoError(t, err)
		before := dump(t, d)

		in, err := d.Intake(ctx, f.write("map2.csv", mapHeader+rows("a.csv", "C1", 0)), nil, opt)
		require.NoError(t, err)
		require.Len(t, in.Refused, 1)
		refused(t, in.Refused[0], "the same bytes were taken in as")

		f.export("b.csv", 119, 0, 2)
		in, err = d.Intake(ctx, f.write("map3.csv", mapHeader+rows("b.csv", "E1", 0)), nil, opt)
		require.NoError(t, err)
		require.Len(t, in.Refused, 1)
		refused(t, in.Refused[0], "which was read before")
		assert.Equal(t, before, dump(t, d))
	})
}
