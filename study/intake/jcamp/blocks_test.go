package jcamp_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// A file is known by its first record, however its label is written.
func TestIs(t *testing.T) {
	for s, want := range map[string]bool{
		"##TITLE= G07\n": true, "##title=": true, "## T I T L E =x": true, "##TIT_LE=G07": true, "  ##TITLE= G07": true,
		"\n\n##TITLE= G07": true, "$$ made up\n##TITLE= G07": true, "$$ made up\r\n$$\r\n##TITLE= G07": true,
		"##T-I/T_L E= G07": true,
		"":                 false, "##TITLE": false, "#TITLE= G07": false, "##END=": false, "TITLE= G07": false,
		"##TITLES= G07":       false,
		"nm,%R\n##TITLE= G07": false, "##JCAMP-DX= 4.24\n##TITLE= G07": false, "$$ ##TITLE= G07": false,
		strings.Repeat("$", 5000) + "\n##TITLE= G07": false, // beyond what is looked at
	} {
		assert.Equal(t, want, jcamp.Is([]byte(s)), "%q", s)
	}
}

// The labels of records are compared in capitals without spaces, dashes, underscores and slashes;
// values end at a comment. Source: McDonald and Wilks (1988), from memory.
func TestParseRecords(t *testing.T) {
	f, err := parse(`##TITLE= G07, front $$ made up
##data type = UV/VIS SPECTRUM
##X-Units= NANOMETERS
## Y_FACTOR = 0.01
##$OPERATOR= nobody
who stands in two lines
##= a comment
$$ another one
##XUNITS= NANOMETERS
##XUNITS= 1/CM
##FIRSTX= 400=1
##XYDATA= (X++(Y..Y))
400 1 $$ of the rows
401 2

##END= $$ of all
`)
	require.NoError(t, err)
	require.Len(t, f.Blocks, 1)
	b := f.Blocks[0]
	assert.Equal(t, jcamp.Record{Label: "TITLE", Value: "G07, front", Line: 1}, b.Title)
	assert.Equal(t, text.Position{Line: 1}, b.Title.At())
	assert.Equal(t, map[string]jcamp.Record{
		"DATATYPE": {Label: "DATATYPE", Value: "UV/VIS SPECTRUM", Line: 2},
		"XUNITS":   {Label: "XUNITS", Value: "NANOMETERS", Line: 3},
		"YFACTOR":  {Label: "YFACTOR", Value: "0.01", Line: 4},
		"FIRSTX":   {Label: "FIRSTX", Value: "400=1", Line: 11},
	}, b.Records, "private labels and comments are no records that are read")
	assert.Equal(t, jcamp.Record{Label: "XUNITS", Value: "1/CM", Line: 10}, b.Twice, "the same value twice is no fault")
	require.Len(t, b.Tables, 1)
	assert.Equal(t, text.Span{First: 13, Last: 14}, b.Tables[0].Lines)
	assert.False(t, b.IsLink())
	assert.False(t, b.InPairs())
	assert.Equal(t, 13, f.RowsAt)
	assert.Equal(t, []string{"##END= $$ of all"}, f.Footer)
	require.Len(t, f.Header, 12)
	assert.Equal(t, "##TITLE= G07, front $$ made up", f.Header[0])
	assert.Equal(t, "##XYDATA= (X++(Y..Y))", f.Header[11])
	assert.Equal(t, jcamp.Line{Number: 5, Text: "##$OPERATOR= nobody"}, f.Lines[4])
	assert.Equal(t, jcamp.Line{Number: 6, Text: "who stands in two lines"}, f.Lines[5])
	assert.Equal(t, jcamp.Line{Number: 9, Text: "##XUNITS= NANOMETERS", IsRecord: true}, f.Lines[8])
	assert.Equal(t, f.Lines[1:], b.Lines, "those behind its title, without the rows")
}

// Labels of instruments get the names of records that are read.
func TestParseNamesLabels(t *testing.T) {
	f, err := jcamp.Parse(text.Decoded{Text: []byte("##TITLE=\n##$AOI= 8\n##.POL= s\n##END=\n")},
		func(label string) string {
			switch label {
			case "$AOI":
				return "ANGLE"
			case ".POL":
				return "POLARISATION"
			}
			return label
		})
	require.NoError(t, err)
	assert.Equal(t, jcamp.Record{Label: "ANGLE", Value: "8", Line: 2}, f.Blocks[0].Records["ANGLE"])
	assert.Equal(t, jcamp.Record{Label: "POLARISATION", Value: "s", Line: 3}, f.Blocks[0].Records["POLARISATION"])
}

// LINK blocks hold other blocks, LINK blocks among them, and say how many stand right inside.
func TestParseNestsBlocks(t *testing.T) {
	f, err := parse(`##TITLE= all
##DATA TYPE= LINK
##BLOCKS= 2
##TITLE= first
##XYDATA= (X++(Y..Y))
400 1
##END=
##TITLE= second
##BLOCKS= 1
##TITLE= inner
##XYPOINTS= (XY..XY)
400,1
##END=
##END=
##END=
##TITLE= another file behind it
##END=
`)
	require.NoError(t, err)
	var titles []string
	for _, b := range f.Blocks {
		titles = append(titles, b.Title.Value)
	}
	assert.Equal(t, []string{"all", "first", "second", "inner", "another file behind it"}, titles)
	for i, want := range []bool{true, false, true, false, false} {
		assert.Equal(t, want, f.Blocks[i].IsLink(), titles[i])
	}
	assert.True(t, f.Blocks[3].InPairs())
	assert.Equal(t, 6, f.RowsAt)
	assert.Len(t, f.Footer, 5)
}

// Blocks that do not end, do not begin or do not hold what they say are refused where that shows.
func TestParseRefusesBlocks(t *testing.T) {
	const copyAgain = "copy the file again from the instrument"
	for _, c := range []struct{ name, text, want string }{
		{"cut short", "##TITLE= a\n##DATA TYPE= LINK\n##BLOCKS= 1\n##TITLE= b\n",
			"4: the block that begins here has no ##END=: the file was cut short | " + copyAgain},
		{"no END of the LINK block", "##TITLE= a\n##BLOCKS= 1\n##TITLE= b\n##END=\n",
			"1: the block that begins here has no ##END=: the file was cut short | " + copyAgain},
		{"a block in a block", "##TITLE= a\n##TITLE= b\n##END=\n##END=\n",
			"2: a block begins here, but the one of line 1 has no ##END= before it | " + again},
		{"one END too many", "##TITLE= a\n##END=\n##END=\n",
			"3: ##END= stands outside any block: blocks begin with ##TITLE= and end with ##END= | " + again},
		{"a record outside", "##TITLE= a\n##END=\n##XUNITS= NM\n",
			"3: ##XUNITS= stands outside any block: blocks begin with ##TITLE= and end with ##END= | " + again},
		{"text outside", "##TITLE= a\n##END=\n\n  400 1  \n",
			`4: "400 1" stands outside any block, behind its ##END= | delete what stands outside the blocks, or export ` +
				"the file again"},
		{"no sign", "##TITLE= a\n##XUNITS NM\n##END=\n",
			"2: ##XUNITS NM has no =: it is no labelled record | " + again + ", or correct the line"},
		{"too few blocks", "##TITLE= a\n##BLOCKS= 2\n##TITLE= b\n##END=\n##END=\n",
			`2: ##BLOCKS= says "2", the LINK block contains 1 block | ` + again},
		{"too many blocks", "##TITLE= a\n##BLOCKS= 1\n##TITLE= b\n##END=\n##TITLE= c\n##END=\n##END=\n",
			`2: ##BLOCKS= says "1", the LINK block contains 2 blocks | ` + again},
		{"blocks of blocks do not count", "##TITLE= a\n##BLOCKS= 2\n##TITLE= b\n##BLOCKS= 1\n##TITLE= c\n##END=\n##END=\n" +
			"##END=\n", `2: ##BLOCKS= says "2", the LINK block contains 1 block | ` + again},
		{"half a block", "##TITLE= a\n##BLOCKS= 1.5\n##TITLE= b\n##END=\n##END=\n",
			`2: ##BLOCKS= says "1.5", the LINK block contains 1 block | ` + again},
		{"no number of blocks", "##TITLE= a\n##DATA TYPE= link\n##TITLE= b\n##END=\n##END=\n",
			"1: the LINK block has no ##BLOCKS=, so it cannot be checked that it is whole | " + again},
		{"a table of the LINK block", "##TITLE= a\n##BLOCKS= 0\n##XYDATA= (X++(Y..Y))\n400 1\n##END=\n",
			"3: a table stands right inside the LINK block of line 1 | " + again},
		{"a value too long", "##TITLE= " + strings.Repeat("G", jcamp.MostInRecord+1) + "\n##END=\n",
			"1: ##TITLE= contains more than 4,096 bytes | shorten the line"},
		{"no text", "##TITLE= " + strings.Repeat("\x01", 100) + "\n##END=\n",
			"0: the file is not text: it is full of control characters | save the export as plain text in UTF-8"},
		{"too many lines", "##TITLE= a\n" + strings.Repeat("$$\n", text.MaxTextLines) + "##END=\n",
			"20001: more than 20,000 lines are not numbers | " + again},
		{"too much text", "##TITLE= a\n##$X= " + strings.Repeat("words ", text.MaxTextBytes/6) + "\n##END=\n",
			"2: more than 8 MiB are not numbers | " + again},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := parse(c.text)
			requireFault(t, c.want, err)
		})
	}
	_, err := parse("##TITLE= " + strings.Repeat("G", jcamp.MostInRecord) + "\n##END=\n")
	assert.NoError(t, err, "just short enough")
	_, err = parse("##TITLE= a\n##$X= " + strings.Repeat("G", 2*jcamp.MostInRecord) + "\n##END=\n")
	assert.NoError(t, err, "labels that are not read may be long")
	_, err = parse("##TITLE= a\n##BLOCKS= 01.0\n##TITLE= b\n##END=\n##END=\n")
	assert.NoError(t, err, "a whole number with a point")
}

// Tables in other forms, and more than one, are not read.
func TestUnread(t *testing.T) {
	const forms = "export the spectrum as ##XYDATA= (X++(Y..Y)) or ##XYPOINTS= (XY..XY)"
	for _, c := range []struct{ name, records, want string }{
		{"NTUPLES", "##NTUPLES= UV SPECTRUM\n", "2: ##NTUPLES= is not read | export one spectrum a block, as ##XYDATA= or " +
			"##XYPOINTS="},
		{"no table", "##XUNITS= NM\n", "1: the block has no table: no ##XYDATA= and no ##XYPOINTS= | " + again},
		{"two tables", "##XYDATA= (X++(Y..Y))\n##XYDATA= (X++(Y..Y))\n",
			"3: a second table in the block of line 1 | give each table a block of its own"},
		{"assignments", "##PEAK ASSIGNMENTS= (XYA)\n",
			"2: a table of the form ##PEAKASSIGNMENTS= (XYA) is not read | " + forms},
		{"an interferogram", "##RADATA= (R++(A..A))\n",
			"2: a table of the form ##RADATA= (R++(A..A)) is not read | " + forms},
		{"another variable", "##XYDATA= (X++(R..R))\n",
			"2: a table of the form ##XYDATA= (X++(R..R)) is not read | " + forms},
		{"no form", "##XYDATA=\n", "2: a table of the form ##XYDATA=  is not read | " + forms},
		{"steps", "##XYDATA= (X++(Y..Y))\n", ""}, {"steps, spaced", "##xydata= ( x ++ ( y .. y ) )\n", ""},
		{"points", "##XYPOINTS= (XY..XY)\n", ""}, {"peaks", "##PEAK TABLE= (XY..XY)\n", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := parse("##TITLE= a\n" + c.records + "##END=\n")
			require.NoError(t, err)
			err = f.Blocks[0].Unread()
			if c.want == "" {
				assert.NoError(t, err)
				return
			}
			requireFault(t, c.want, err)
		})
	}
}

// Whatever bytes are changed, dropped or doubled, the codec does not panic: it returns a table, or an
// error of its own type with a line of the text. Twice the same bytes give the same.
func TestDamagedTextsAreTakenOrRefused(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	seeds := []string{
		block(steps, "400AJT%jT\n405AjV\n409c"), block(steps, "400 1 2 3 3 2\n405 1 0 -1 -2 -3"), block(steps, "400+1+2E+1?"),
		block(pairs, "400,1 401.5,-2 410,3"), "##TITLE= a\n##BLOCKS= 1\n" + block(steps, "400ABCTBA@abc") + "##END=\n",
	}
	const marks = "#$=\n\r\t ,;?.+-eE%@AaJjSsTZ019\x00\xff"
	refused := 0
	for range 20_000 {
		s := []byte(seeds[random.IntN(len(seeds))])
		for range 1 + random.IntN(4) {
			at := random.IntN(len(s))
			switch c := marks[random.IntN(len(marks))]; random.IntN(3) {
			case 0:
				s[at] = c
			case 1:
				s = append(s[:at], s[at+1:]...)
			default:
				s = append(s[:at], append([]byte{c}, s[at:]...)...)
			}
		}
		first, err := readAll(string(s))
		second, again := readAll(string(s))
		require.Equal(t, err, again, "%q", s)
		require.Len(t, second, len(first), "%q", s)
		if err != nil {
			var e *jcamp.Error
			require.ErrorAs(t, err, &e, "%q", s)
			require.NotEmpty(t, e.Try, "%q", s)
			require.LessOrEqual(t, e.At.Line, strings.Count(string(s), "\n")+strings.Count(string(s), "\r")+1, "%q", s)
			refused++
		}
	}
	assert.Greater(t, refused, 10_000, "most damage shows")
	assert.Less(t, refused, 20_000, "comments and titles may change")
}

// readAll reads every table of a text that can be read.
func readAll(s string) (all []*jcamp.Table, err error) {
	f, err := parse(s)
	if err != nil {
		return nil, err
	}
	for _, b := range f.Blocks {
		if b.IsLink() || b.Unread() != nil {
			continue
		}
		table, err := f.Read(b, many)
		if err != nil {
			return nil, err
		}
		all = append(all, table)
	}
	return all, nil
}
