// Package intake reads the text exports of instruments.
//
// [Read] takes the bytes of one file and returns its spectra, or a
// [*study.Refusal] that says what is wrong, where, and what to try. It takes
// delimited text: columns of numbers below any kind of header, separated by
// commas, tabs, semicolons or spaces, with a decimal point or comma.
//
// Nothing is guessed: a unit or a quantity comes from the words of the file or
// from [text.Stated], never from the size of the numbers; if the two contradict each
// other the file is refused. Nothing is lost in silence: each row of the block
// of numbers is read, or the file is refused with the line that could not be.
// What was taken and is worth telling is in [Export.Notes].
//
// Wavelengths are in nm as written: the difference between air and vacuum is
// not corrected. Values are fractions. Percent and micrometres are converted
// in decimal, so 4.12 % is the float64 nearest to 0.0412.
package intake

import (
	"bytes"
	"crypto/sha256"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/jcamp"
	"wane/study/intake/text"
	"wane/study/intake/workbook"
)

// ReaderVersion belongs into every digest of what was read. Raise it whenever the
// same bytes and statements could be read otherwise than before: to other numbers,
// units, quantities, angles, polarisations or columns, or refused where they were
// taken.
const ReaderVersion = 4

// Read parses one export held in data, which it neither changes nor keeps. name
// is used in messages. Every error is a [*study.Refusal]. It needs at most 200
// MB for a file of 100 MB.
//
// These are the stages. Each is a function of what those before it found, and none calls an
// earlier one:
//
//	newAsker      what a person states -> understood
//	decode        bytes -> text
//	chooseBlock   text -> the block of rows that is read
//	findForm      block -> which way the spectra stand, and the dialect that splits the rows
//	surroundings  form -> the lines around the rows
//	headings      lines -> a heading for each column, and what the header states
//	plan          headings -> what each column holds, and who says so
//	table         plan -> the numbers of all rows
//	inspect       table -> the curves that are meant, in nm and in order
//	spectra       curves -> spectra, each checked
//	export        spectra -> what Read returns
//
// A JCAMP-DX file goes from decode to readJCAMP: its codec takes the place of the stages up to
// table, and its blocks pass the checks of inspect and spectra.
func Read(name string, data []byte, stated text.Stated) (*Export, error) {
	x, _, err := read(name, data, stated)
	return x, err
}

// way is what the stages have found, as far as they came.
type way struct {
	rows grid
	plan plan // of a table that was read
}

func read(name string, data []byte, stated text.Stated) (x *Export, w way, err error) {
	if w.rows.asker, err = newAsker(name, stated); err != nil {
		return nil, w, err
	}
	if w.rows.decoded, err = w.rows.decode(data); err != nil {
		return nil, w, err
	}
	if jcamp.Is(w.rows.src.Text) {
		x, err = w.rows.readJCAMP()
	} else {
		x, w, err = w.rows.readNumbers()
	}
	if err != nil {
		return nil, w, err
	}
	x.SHA256 = sha256.Sum256(data)
	return x, w, nil
}

// readNumbers reads rows of numbers below a header.
func (r decoded) readNumbers() (x *Export, w way, err error) {
	if w.rows.section, err = r.chooseBlock(); err != nil {
		return nil, w, err
	}
	f, g, err := w.rows.findForm()
	w.rows = g
	if err != nil {
		return nil, w, err
	}
	around, err := f.surroundings()
	if err != nil {
		return nil, w, err
	}
	h, err := f.headings(around)
	if err != nil {
		return nil, w, err
	}
	p, err := f.plan(h)
	if err != nil {
		return nil, w, err
	}
	t, err := f.table(h, p.layout())
	if err != nil {
		return nil, w, err
	}
	at, p, t, err := f.located(h).inspect(p, t, h.around)
	w.plan = p
	if err != nil {
		return nil, w, err
	}
	x, err = at.export(p, t, h.around)
	return x, w, err
}

func newAsker(name string, stated text.Stated) (*asker, error) {
	a := &asker{Asker: text.Asker{File: name, Stated: stated}}
	var err error
	a.want, err = a.Understand()
	return a, err
}

// decode makes text of the bytes of a file.
func (r *asker) decode(data []byte) (decoded, error) {
	d := decoded{asker: r}
	if len(bytes.TrimSpace(data)) == 0 {
		return d, r.Refuse(text.Nowhere, text.ExportAgain, "the file is empty")
	}
	var err error
	if workbook.Is(data) {
		d.src, err = r.workbook(data)
	} else {
		d.src, err = r.Decode(data)
	}
	return d, err
}

// workbook returns the cells of a sheet as lines with tabs between them.
func (r *asker) workbook(data []byte) (d text.Decoded, err error) {
	sheet := r.Stated.Sheet
	sheets, err := workbook.Sheets(r.File, data)
	switch {
	case err != nil:
		return d, err
	case sheet == "" && len(sheets) > 1:
		choices := make([]study.Choice, len(sheets))
		for i, s := range sheets {
			choices[i] = study.Choice{Name: "sheet", Value: s, Meaning: "the sheet of this name"}
		}
		return d, r.Question(text.Nowhere, choices, "save one sheet as a file of its own", "the workbook has %d sheets", len(sheets))
	case sheet != "" && !slices.Contains(sheets, sheet):
		return d, r.Refuse(text.Nowhere, study.DidYouMean(sheet, sheets, "state one of these: "+strings.Join(sheets, ", ")),
			"the workbook has no sheet %s", text.Quoted(sheet))
	}
	d.Encoding = "a sheet of a workbook"
	d.Text, err = workbook.Text(r.File, sheet, data, workbook.Tab)
	return d, err
}
