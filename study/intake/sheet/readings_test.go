package sheet_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/sheet"
	"wane/study/intake/text/texttest"
)

// A roster from a spreadsheet of another country: semicolons, names in capitals, days in
// another order. What leaves one reading only is read, with a note.
func TestRosterIsReadInTheOneWayThatIsPossible(t *testing.T) {
	var r sheet.Roster
	require.NoError(t, r.Add("p.csv",
		[]byte("\ufeff# made up, with commas, in a comment\n\nExposure;PULL;dose;date\nroof;0;0;2031-01-02\n"+
			"roof;1;30;23.03.2031\nroof;2;60;4/23/2031\nroof;3;90;05-05-2031\n")))
	var days []string
	for _, l := range r.Pulls {
		days = append(days, l.Row.Date)
	}
	assert.Equal(t, []string{"2031-01-02", "2031-03-23", "2031-04-23", "2031-05-05"}, days)
	assert.Equal(t, "roof", r.Pulls[0].Row.Exposure)
	assert.Equal(t, []string{
		"p.csv:1 begins with # and was skipped as a comment; if it is a row, put its first cell in quotation marks",
		"p.csv: semicolons separate the cells",
		"p.csv:3: the column Exposure is read as exposure, and 1 more in the same way",
		"p.csv:5: date 23.03.2031 is read as 2031-03-23, and 2 more in the same way",
	}, r.Notes)
}

// What can be read in two ways is refused with both, and what cannot be read with its cause.
func TestRosterRefusesTwoReadings(t *testing.T) {
	for _, c := range []struct{ date, fault string }{
		{"10.03.2031", `p.csv:2: column date: "10.03.2031" can be read in two ways: 2031-03-10 or 2031-10-03`},
		{"03/10/2031", `p.csv:2: column date: "03/10/2031" can be read in two ways: 2031-10-03 or 2031-03-10`},
		{"23.03.31", `"23.03.31" is not a date of the form year-month-day`},
		{"31.02.2031", `"31.02.2031" is not a date of the form year-month-day`},
		{"2031", `"2031" is not a date of the form year-month-day`},
		{"23 March", `"23 March" is not a date of the form year-month-day`},
	} {
		var r sheet.Roster
		texttest.Refused(t, r.Add("p.csv", []byte("exposure,pull,dose,date\nroof,0,0,"+c.date+"\n")), "p.csv:2", c.fault)
	}
	for head, fault := range map[string]string{
		"exposure;pull,dose,date":          `p.csv:1: this is not the header of a roster: exposure;pull,dose,date`,
		"Exposure,exposure,pull,dose,date": "p.csv:1: the column exposure stands twice",
		"Exposure,pull,dose,date,Note":     `p.csv:1: there is no column "Note" here`,
	} {
		var r sheet.Roster
		texttest.Refused(t, r.Add("p.csv", []byte(head+"\n")), "p.csv:1", fault)
	}
}

// Measurements say percent as % too, and a picture may be named with backslashes.
func TestMeasuredIsReadInTheOneWayThatIsPossible(t *testing.T) {
	lines, notes, err := sheet.ReadMeasured("m.csv",
		[]byte(strings.ToUpper(measuredHeader[:1])+measuredHeader[1:]+"E1,0,1,haze,1.25,0.05,%,haze "+
			"meter,23.03.2031,,in\\a.png,\n"))
	require.NoError(t, err)
	assert.Equal(t, "in/a.png", lines[0].Row.Picture)
	assert.Equal(t, "2031-03-23", lines[0].Row.Date)
	assert.Equal(t, []string{"m.csv:1: the column Coupon is read as coupon",
		`m.csv:2: picture in\a.png is read as in/a.png`,
		"m.csv:2: unit % is read as percent", "m.csv:2: date 23.03.2031 is read as 2031-03-23"}, notes)
	_, _, err = sheet.ReadMeasured("m.csv",
		[]byte(measuredHeader+"E1,0,1,haze,1.25,0.05,%,haze meter,2031-03-23,,..\\a.png,\n"))
	texttest.Refused(t, err, "m.csv:2", "is not within the folder of this table")
}
