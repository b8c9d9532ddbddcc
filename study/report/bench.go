package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/protocols"
	"wane/study"
	"wane/study/bench"
	"wane/study/report/paper"
)

// BenchSheet is the page of a bench sheet.
func BenchSheet(s *bench.Sheet, size paper.Size) *paper.Document {
	d := &paper.Document{Title: "Bench sheet: " + sheetName(s.Sheet), Footer: s.Study + ", " + sheetName(s.Sheet), Size: size,
		Made: moment(s.Drawn)}
	d.Blocks = append(d.Blocks, paper.Heading{Text: d.Title, Level: 1}, paper.Text(sheetOrigin(s)), sheetHead(s),
		paper.Choice{Label: "Condition of the coupons", Words: study.Conditions(), Chosen: s.Condition},
		cautions(s.Exposing, s.Reading), paper.Heading{Text: "Before the first reading", Level: 2}, paper.List{Items: beforehand(s)},
		paper.Heading{Text: "Readings, from top to bottom", Level: 2}, paper.Text(tableNote(s)), readingTable(s))
	for _, p := range []*protocols.Protocol{s.Reading, s.Exposing} {
		if p != nil {
			d.Blocks = append(d.Blocks, protocolBlocks(p)...)
		}
	}
	d.Blocks = append(d.Blocks, paper.Heading{Text: "Done", Level: 2},
		paper.Fields{{Label: "read by"}, {Label: "date and hour of the last reading"},
			{Label: "checked by"}, {Label: "what was unusual"}})
	return d
}

// sheetName names a sheet in one line.
func sheetName(s *study.Sheet) string {
	return fmt.Sprintf("exposure %s, pull %d, sheet %d", s.Exposure, s.Pull, s.Number)
}

// moment reads a time of the log; the zero time if it is none.
func moment(at string) time.Time {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return time.Time{}
	}
	return t
}

func sheetOrigin(s *bench.Sheet) string {
	text := fmt.Sprintf("Study %s. The order was drawn at %s by %s, seed %d, and is kept in the study.", s.Study, s.Drawn, s.Who,
		s.Seed)
	if s.Blind {
		text += " The codes are blind ones: whoever reads does not look at the key."
	}
	return text
}

// sheetHead are the boxes above the table, filled in where the study knows what they say.
func sheetHead(s *bench.Sheet) paper.Fields {
	sitting := study.Session{Session: s.Session, HumidityPercent: study.Null(), TemperatureC: study.Null()}
	if s.Sitting != nil {
		sitting = *s.Sitting
	}
	planned := strings.TrimSpace(fmt.Sprintf("%s %s", number(s.At.Dose), s.Of.DoseUnit))
	if s.At.Date != "" {
		planned += ", planned for " + s.At.Date
	}
	return paper.Fields{{Label: "dose of this pull", Value: planned}, {Label: "site", Value: s.Of.Site},
		{Label: "session", Value: sitting.Session}, {Label: "date", Value: sitting.Date},
		{Label: "instrument", Value: sitting.Instrument}, {Label: "operator", Value: sitting.Operator},
		{Label: "reference and its certificate", Value: sitting.Reference}, {Label: "lamp or detector changed since the last session"},
		{Label: "relative humidity, percent", Value: numberOrNone(sitting.HumidityPercent)},
		{Label: "temperature, °C", Value: numberOrNone(sitting.TemperatureC)},
		{Label: "polarisation and geometry"}, {Label: "orientation of the coupons on the instrument"},
		{Label: "coupons in the room since (day and hour)"}, {Label: "lamp on since (hour)"}}
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func numberOrNone(x study.Num) string {
	if !x.Valid() {
		return ""
	}
	return number(float64(x))
}

// unknownDangers are the cautions of an exposure whose protocol is nothing but words.
func unknownDangers() []string {
	return []string{"Glass: edges cut. Wear cut-resistant gloves and eye protection, and carry coupons in a rack or box.",
		"What else can hurt at this exposure is not known here. Ask whoever runs it before you begin, and think of energised arrays, " +
			"heights and heat, ultraviolet lamps, hot chambers, silica dust and cleaning chemicals."}
}

// cautions are those of all protocols of a page together, with what comes before them. nil is a protocol that is not
// known.
func cautions(of ...*protocols.Protocol) paper.Frame {
	var all []string
	for _, p := range of {
		if p == nil {
			all = append(all, unknownDangers()...)
			continue
		}
		all = append(all, p.Cautions...)
	}
	return paper.Frame{Heading: "Cautions", Items: append(protocols.Together(all), protocols.Precedence)}
}

// beforehand is what the protocol of readings sets, and what a person may overlook.
func beforehand(s *bench.Sheet) []string {
	items := slices.Clone(s.Notes)
	if s.Exposing == nil {
		items = append(items, "The exposure follows no protocol that the study keeps: "+orWords(s.Of.Protocol, "none is named")+
			". Follow the rules of your laboratory for it.")
	}
	for _, l := range s.Reading.Levels {
		item := fmt.Sprintf("%s: %s %s", l.What, l.Value, l.Unit)
		if l.Note != "" {
			item += " (" + l.Note + ")"
		}
		items = append(items, item+" ["+l.Source+"]")
	}
	return items
}

func orWords(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func tableNote(s *bench.Sheet) string {
	text := "Read all angles of a spot before the coupon is taken out. A box is for one scan: tick it when the scan is stored."
	if s.Replicates > 1 {
		text += fmt.Sprintf(" Each spot is scanned %d times at each angle.", s.Replicates)
	}
	return text + " Write the name of the export, and what you see on the coupon, into the last column; strike out what was not read " +
		"and say why."
}

// readingTable has a group of rows for each thing to be read.
func readingTable(s *bench.Sheet) paper.Table {
	t := paper.Table{Columns: []paper.Column{{Head: "no.", Width: 11}, {Head: "code", Width: 30}, {Head: "what", Width: 34},
		{Head: "spot", Width: 15}}}
	for _, a := range s.AnglesDeg {
		boxes := float64(min(s.Replicates, 4))
		t.Columns = append(t.Columns, paper.Column{Head: number(a) + "°", Width: max(9, 5*boxes+3)})
	}
	t.Columns = append(t.Columns, paper.Column{Head: "export, remarks", Width: 44})
	for i, l := range s.Lines {
		t.Groups = append(t.Groups, readingRows(s, i+1, l))
	}
	return t
}

func readingRows(s *bench.Sheet, no int, l study.SheetLine) (rows []paper.Row) {
	first := []paper.Cell{{Text: strconv.Itoa(no), Key: true}, {Text: codeOn(l), Bold: true, Key: true},
		{Text: whatIsRead(s, l), Down: true}}
	row := func(spot string, boxes func(angle float64) int) {
		r := append(slices.Clone(first), paper.Cell{Text: spot, Bold: true})
		for _, a := range s.AnglesDeg {
			r = append(r, paper.Cell{Boxes: boxes(a)})
		}
		rows = append(rows, append(r, paper.Cell{}))
		first = []paper.Cell{{}, {}, {}}
	}
	all := func(float64) int { return s.Replicates }
	one := func(float64) int { return 1 }
	switch l.Kind {
	case study.SheetCoupon:
		for _, spot := range l.Spots {
			row(spot, all)
		}
	case study.SheetCheck:
		settings := s.Settings[l.Code]
		if len(settings) == 0 {
			row("", one)
		}
		for _, set := range settings {
			row(number(set.AngleDeg)+"° "+set.Polarisation, func(a float64) int {
				if a == set.AngleDeg {
					return 1
				}
				return 0
			})
		}
	default:
		row("", one)
	}
	return rows
}

// codeOn is the code that a page shows.
func codeOn(l study.SheetLine) string {
	if l.Blind != "" {
		return l.Blind
	}
	return l.Code
}

// whatIsRead says what a line is, without what a blind page hides.
func whatIsRead(s *bench.Sheet, l study.SheetLine) string {
	switch l.Kind {
	case study.SheetReference:
		return "reference"
	case study.SheetCheck:
		if set := s.Settings[l.Code]; len(set) > 0 && set[0].Quantity == study.Line {
			return "line standard: write down the wavelength"
		}
		return "check standard: write down the value"
	case study.SheetTrap:
		return "light trap"
	}
	if s.Blind {
		return "coupon"
	}
	return describe(s.Coupons[l.Code])
}

// describe says what a coupon is, in one line.
func describe(c study.Coupon) string {
	words := []string{string(c.Role)}
	for _, word := range []string{c.Coating, c.Lot} {
		if word != "" {
			words = append(words, word)
		}
	}
	return strings.Join(words, ", ") + "; back " + c.Back
}

// protocolBlocks are the steps of a protocol, what is written down and what makes a run worth nothing.
func protocolBlocks(p *protocols.Protocol) []paper.Block {
	return []paper.Block{paper.Heading{Text: fmt.Sprintf("%s (protocol %s)", p.Title, p.Name), Level: 2},
		paper.List{Items: p.Steps, Numbered: true},
		paper.Heading{Text: "Write down", Level: 2}, paper.List{Items: p.Records},
		paper.Heading{Text: "The run is worth nothing if", Level: 2}, paper.List{Items: p.InvalidIf}}
}

// BlindKey is the page that says which coupon a blind code stands for. It is kept away from the bench.
func BlindKey(s *bench.Sheet, size paper.Size) *paper.Document {
	d := &paper.Document{Title: "Key of the blind codes: " + sheetName(s.Sheet), Footer: s.Study + ", key of " + sheetName(s.Sheet),
		Size: size, Made: moment(s.Drawn)}
	t := paper.Table{Columns: []paper.Column{{Head: "no.", Width: 10}, {Head: "blind code", Width: 25}, {Head: "coupon", Width: 50},
		{Head: "what", Width: 80}}}
	for i, l := range s.Lines {
		if l.Blind != "" {
			t.Groups = append(t.Groups, []paper.Row{{{Text: strconv.Itoa(i + 1)}, {Text: l.Blind, Bold: true}, {Text: l.Code, Bold: true},
				{Text: describe(s.Coupons[l.Code])}}})
		}
	}
	d.Blocks = []paper.Block{paper.Heading{Text: d.Title, Level: 1},
		paper.Text("Keep this page away from whoever reads, until all readings are taken in. The study keeps the key too."), t}
	return d
}
