package sheet_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/sheet"
)

// What a laboratory states is stated, 0 too, and an empty cell states nothing.
func TestStatedColumns(t *testing.T) {
	var r sheet.Roster
	for _, table := range []string{
		"instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,u_zero,u_place,u_tilt,u_place_zero,u_wavelength_nm\n" +
			"a,,,,,,,0.0003,0.001,0.02,0,0.1\nb,,,,,,,,,,,\n",
		"coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,leak,glass_batch\n" +
			"B1,blank,,,,soda-lime,,matched,,0.0004,melt 7\nB2,blank,,,,soda-lime,,matched,,,\n",
		"batch,glass,u_index,model\nmelt 7,soda-lime,0.0003,as measured in May\nmelt 8,n-bk7,,\n",
		"standard,serial,certificate,issued,expires,quantity,wavelength_nm,angle_deg,polarisation,value,u\n" +
			"LT1,,C1,2031-01-01,,zero,,8,u,0.0001,0.00005\nLT2,,own,2031-01-01,,zero,,8,u,0,\n",
	} {
		require.NoError(t, r.Add("r.csv", []byte(table)))
	}
	is := func(x float64) study.Stated { return study.Stated{Value: x, Is: true} }
	a, b := r.Instruments[0].Row, r.Instruments[1].Row
	assert.Equal(t, []study.Stated{is(0.0003), is(0.001), is(0.02), is(0), is(0.1)},
		[]study.Stated{a.UZero, a.UPlace, a.UTiltDeg, a.UPlaceZero, a.UWavelengthNM})
	assert.Equal(t, make([]study.Stated, 5), []study.Stated{b.UZero, b.UPlace, b.UTiltDeg, b.UPlaceZero, b.UWavelengthNM})
	assert.Equal(t, []study.Stated{is(0.0004), {}}, []study.Stated{r.Coupons[0].Row.Leak, r.Coupons[1].Row.Leak})
	assert.Equal(t, "soda-lime, batch melt 7", r.Coupons[0].Row.GlassBatch())
	assert.Equal(t, "soda-lime", r.Coupons[1].Row.GlassBatch(), "glass and supplier, of which a blank has none")
	assert.Equal(t, study.GlassBatch{Glass: "soda-lime", Batch: "melt 7", UIndex: is(0.0003), Model: "as measured in May"},
		r.Batches[0].Row)
	assert.Equal(t, study.GlassBatch{Glass: "borosilicate-crown", Batch: "melt 8"}, r.Batches[1].Row)
	assert.Equal(t, []float64{0.00005, study.UTrap}, []float64{r.Standards[0].Row.U, r.Standards[1].Row.U})
	assert.False(t, r.Standards[0].Row.WavelengthNM.Valid())
}

func TestStatedColumnsRefuse(t *testing.T) {
	const (
		instruments = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,"
		coupons     = "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,leak\n"
		standards   = "standard,serial,certificate,issued,expires,quantity,wavelength_nm,angle_deg,polarisation,value,u\n"
	)
	for _, c := range []struct{ table, fault, try string }{
		{instruments + "u_zero\na,,,,,,,-0.0001\n", "u_zero: -0.0001 is outside 0 to 0.05", "as a fraction"},
		{instruments + "u_zero\na,,,,,,,0.3\n", "u_zero: 0.3 is outside 0 to 0.05", "as a fraction"},
		{instruments + "u_place\na,,,,,,,0.2%\n", `u_place: "0.2%" is not a number`, "decimal point"},
		{instruments + "u_tilt\na,,,,,,,NaN\n", `u_tilt: "NaN" is not a number`, "decimal point"},
		{instruments + "u_tilt\na,,,,,,,9\n", "u_tilt: 9 is outside 0 to 5", "in degrees"},
		{instruments + "u_place_zero\na,,,,,,,-1\n", "u_place_zero: -1 is outside", "as a fraction"},
		{instruments + "u_wavelength_nm\na,,,,,,,3\n", "u_wavelength_nm: 3 is outside 0 to 2", "in nm"},
		{instruments + "u_scale\na,,,,,,,0.01\n", `there is no column "u_scale" here`, "u_wavelength_nm"},
		{coupons + "B1,blank,,,,soda-lime,,matched,,-0.1\n", "leak: -0.1 is outside 0 to 0.05", "as a fraction"},
		{coupons + "B1,blank,,,,soda-lime,,blackened,,0.0001\n", "leak: the far face is blackened", "leave it empty"},
		{"glass,batch,u_index,model\nsoda-lime,,0.001,\n", "batch: the cell is empty", "fill the cell"},
		{"glass,batch,u_index,model\nsoda-lime,a,1.52,\n", "u_index: 1.52 is outside 0 to 0.05", "of the index"},
		{standards + "LT,,C,2031-01-01,,zero,550,8,u,0,0.0001\n", "wavelength_nm: a light trap has one value", "empty"},
		{standards + "LT,,C,2031-01-01,,zero,,8,u,0,0\n", "u: an uncertainty of 0 is none", "as a fraction"},
		{standards + "S,,C,2031-01-01,,R,550,8,u,0.04,\n", "u: the cell is empty", "fill the cell"},
	} {
		var r sheet.Roster
		err := r.Add("r.csv", []byte(c.table))
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused, c.fault)
		assert.Contains(t, refused.Fault, c.fault)
		assert.Contains(t, refused.Try, c.try, c.fault)
	}
}

func TestMountingOfAMap(t *testing.T) {
	const head = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,mounting\n"
	read := func(cell string) (mounting int, err error) {
		r, err := sheet.NewReader("m.csv", strings.NewReader(head+"a.csv,#2,E1,0,1,8,u,R,percent,"+cell+"\n"))
		require.NoError(t, err)
		err = sheet.EachMapRow(r, func(_ *sheet.Row, m sheet.MapRow) error { mounting = m.Mounting; return nil })
		return mounting, err
	}
	for cell, want := range map[string]int{"": 0, "1": 0, "2": 2, "12": 12} { // 0 stands for the first
		got, err := read(cell)
		require.NoError(t, err, cell)
		assert.Equal(t, want, got, cell)
	}
	for _, cell := range []string{"0", "-1", "1.5", "second"} {
		_, err := read(cell)
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused, cell)
		assert.Contains(t, refused.Fault, "mounting: ")
	}
}
