package sheet_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/intake/text/texttest"
)

const measuredHeader = "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"

// A table as a lab might write it; all names and figures are made up.
func TestMeasured(t *testing.T) {
	lines, _, err := sheet.ReadMeasured("m.csv", []byte("# made up\n"+measuredHeader+
		"E1,0,1,thickness,118.4,0.8,nm,ellipsometer,2031-03-02,ada,pics/e1.png,\"near the edge, left\"\n"+
		"E1,0,,mass,41.2375,,g,balance,2031-03-02,,,\n"))
	require.NoError(t, err)
	require.Len(t, lines, 2)
	assert.Equal(t, sheet.Line[sheet.Measured]{File: "m.csv", Number: 3, Row: sheet.Measured{
		Measurement: study.Measurement{Coupon: "E1", Pull: 0, Spot: "1", Quantity: "thickness", Value: 118.4, U: 0.8,
			Method: "ellipsometer",
			Date:   "2031-03-02", Replicate: 1, Operator: "ada", Note: "near the edge, left", Line: 3},
		Picture: "pics/e1.png"}}, lines[0])
	whole := lines[1].Row
	assert.Equal(t, 4, whole.Line)
	assert.Empty(t, whole.Spot+whole.Picture+whole.Operator)
	assert.False(t, whole.U.Valid(), "an empty u is not known, not 0")
	assert.EqualValues(t, 41.2375, whole.Value)

	lines, _, err = sheet.ReadMeasured("m.csv",
		[]byte("replicate,condition,"+measuredHeader+"2,rinsed,E1,0,1,haze,1.25,0.05,percent,haze meter,2031-03-02,,,\n"))
	require.NoError(t, err)
	assert.Equal(t, 2, lines[0].Row.Replicate)
	assert.Equal(t, "rinsed", lines[0].Row.Condition)
}

// Each measurand is taken in its own unit and within its bounds, ends included.
func TestMeasuredUnitsAndBounds(t *testing.T) {
	for _, c := range []struct {
		cells string // quantity, value, u, unit
		fault string // empty: taken
	}{
		{"haze,0,,percent", ""},
		{"haze,100,,percent", ""},
		{"haze,100.1,,percent", "column value: 100.1 percent is no haze, which is 0 to 100"},
		{"haze,0.5,,fraction", `column unit: haze is in percent here, not in "fraction"`},
		{"gloss,1200,20,GU", ""},
		{"gloss,-1,,GU", "column value: -1 GU is no gloss, which is at least 0"},
		{"contact_angle,180,,degrees", ""},
		{"contact_angle,181,,degrees", "column value: 181 degrees is no contact_angle, which is 0 to 180"},
		{"contact_angle,1.2,,rad", `column unit: contact_angle is in degrees here, not in "rad"`},
		{"mass,41.2,,g", ""},
		{"mass,41200,,mg", `column unit: mass is in g here, not in "mg"`},
		{"thickness,0.118,,um", `column unit: thickness is in nm here, not in "um"`},
		{"thickness,118,,", "column unit: the cell is empty"},
		{"thickness,,,nm", "column value: the cell is empty"},
		{"thickness,NaN,,nm", `column value: "NaN" is not a number`},
		{"thickness,1e999,,nm", `column value: "1e999" is not a number`},
		{"thickness,118,0,nm", "column u: 0 is not a standard uncertainty, which is larger than 0"},
		{"thickness,118,-1,nm", "column u: -1 is not a standard uncertainty, which is larger than 0"},
		{"thickness,118,about 1,nm", `column u: "about 1" is not a number`},
		{"roughness,2,,nm", `column quantity: "roughness" is not one of haze, gloss, contact_angle, mass, thickness`},
		{",2,,nm", `column quantity: "" is not one of haze`},
	} {
		t.Run(c.cells, func(t *testing.T) {
			_, _, err := sheet.ReadMeasured("m.csv", []byte(measuredHeader+"E1,0,1,"+c.cells+",by eye,2031-03-02,,,\n"))
			if c.fault == "" {
				assert.NoError(t, err)
				return
			}
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), "m.csv:2: "+c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

func TestMeasuredRefuses(t *testing.T) {
	good := "E1,0,1,haze,1,,percent,haze meter,2031-03-02,,,\n"
	for _, c := range []struct{ name, text, fault string }{
		{"no header", good, `m.csv:1: there is no column "E1" here`},
		{"a column missing", strings.Replace(measuredHeader, ",note", "", 1), "m.csv:1: the column note is missing"},
		{"a column of our own", "colour," + measuredHeader, `m.csv:1: there is no column "colour" here`},
		{"no coupon", measuredHeader + strings.Replace(good, "E1", "", 1), "m.csv:2: column coupon: the cell is empty"},
		{"no pull", measuredHeader + strings.Replace(good, ",0,1,", ",,1,", 1), "m.csv:2: column pull: the cell is empty"},
		{"half a pull", measuredHeader + strings.Replace(good, ",0,1,", ",0.5,1,", 1),
			`m.csv:2: column pull: "0.5" is not a whole number`},
		{"no method", measuredHeader + strings.Replace(good, "haze meter", "", 1),
			"m.csv:2: column method: the cell is empty"},
		{"no date", measuredHeader + strings.Replace(good, "2031-03-02", "", 1), "m.csv:2: column date: the cell is empty"},
		{"a date in two readings", measuredHeader + strings.Replace(good, "2031-03-02", "02/03/31", 1),
			`m.csv:2: column date: "02/03/31" is not a date`},
		{"a path of this machine alone", measuredHeader + strings.Replace(good, ",,\n", ",/home/ada/p.png,\n", 1),
			"m.csv:2: column picture: /home/ada/p.png is not within the folder of this table"},
		{"a replicate of 0", "replicate," + measuredHeader + "0," + good,
			`m.csv:2: column replicate: "0" is not a whole number of at least 1`},
		{"a condition of our own", "condition," + measuredHeader + "wet," + good,
			`m.csv:2: column condition: "wet" is not one of as_found, rinsed, cleaned`},
		{"a cell too few", measuredHeader + "E1,0,1\n", "m.csv:2: the row does not have the 12 cells of the header"},
		{"empty", "", "m.csv: the table is empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := sheet.ReadMeasured("m.csv", []byte(c.text))
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

// Between semicolons a comma can only be a decimal mark, unless it may stand between thousands.
func TestMeasuredWithDecimalCommas(t *testing.T) {
	header := strings.ReplaceAll(measuredHeader, ",", ";")
	row := "E1;0;1;haze;1,25;0,05;percent;haze meter;2031-03-02;;;\n"
	lines, notes, err := sheet.ReadMeasured("m.csv", []byte(header+row))
	require.NoError(t, err)
	assert.Equal(t, study.Num(1.25), lines[0].Row.Value)
	assert.Equal(t, study.Num(0.05), lines[0].Row.U)
	assert.Contains(t, strings.Join(notes, "\n"), "value 1,25 is read as 1.25")
	_, _, err = sheet.ReadMeasured("m.csv", []byte(header+strings.Replace(row, "1,25", "1,250", 1)))
	texttest.Refused(t, err, "m.csv:2", `column value: "1,250" can be read in two ways`)
	_, _, err = sheet.ReadMeasured("m.csv", []byte(measuredHeader+strings.ReplaceAll(
		strings.Replace(row, "1,25", `"1,25"`, 1), ";", ",")))
	assert.Error(t, err, "commas separate the cells of this one")
}

// A picture is within the folder of its table, whatever its name says.
func TestMeasuredPicturesStayInTheirFolder(t *testing.T) {
	for _, name := range []string{"../secret.png", "below/../../secret.png", "/in/secret.png"} {
		_, _, err := sheet.ReadMeasured("m.csv",
			[]byte(measuredHeader+"E1,0,1,haze,1.25,0.05,percent,haze meter,2031-03-02,,"+name+",\n"))
		texttest.Refused(t, err, "m.csv:2", "column picture: "+name+" is not within the folder of this table")
	}
}
