package intake_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// Made-up files on which the reader once panicked are refused at the row that is wrong.
// Each is a seed of the fuzz targets too.
var oncePanicked = []struct {
	text   string
	stated text.Stated
	fault  string
}{
	{"id,4,0\n6,,\n,0,\n,0,\n,4\n", text.Stated{}, "g.txt:5: 2 cells where the other rows have 3"},
	{"no,no,no\n400,1,2\n401,2,3\n", text.Stated{GroupBy: "1"}, "g.txt: no column of values remains"},
	{"G07,400,4.1\nG07,401,4.2,,\nG07,402,4.3\nG08,400,4.1\n", text.Stated{},
		"g.txt:1: the rows begin with a name: each may be one point of one of several curves"},
	{"nm;%R402,0,4,,3\nnm;%R402,0,4,,3\n", text.Stated{GroupBy: "1,2,3"}, "g.txt:1: this row has no wavelength"},
}

func TestReadRefusesWhatOncePanicked(t *testing.T) {
	for _, c := range oncePanicked {
		_, err := intake.Read("g.txt", []byte(c.text), c.stated)
		require.EqualError(t, err, c.fault)
	}
}

// Of a row in which a value is too much, none is dropped in silence.
func TestReadAcrossCountsTheCells(t *testing.T) {
	for _, c := range []struct{ text, fault string }{
		{"id,400,405,410\n7,4.1,4.0,4.2\n8,4.1,4.0,4.2\n9,4.1,4.0,4.2\n10,4.1,4.0,4.2,4.4\n",
			"g.txt:5: 5 cells where the other rows have 4"},
		{"id,400,405,410\n7,4.1,4.0,4.2\n8,4.1,4.0,4.2\n9,4.1,4.0,4.2\n10,4.1,4.0\n",
			"g.txt:5: 3 cells where the other rows have 4"},
	} {
		_, err := intake.Read("g.txt", []byte(c.text), allStated)
		require.EqualError(t, err, c.fault)
	}
}
