package intake_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
	"wane/study/intake/workbook"
)

// A workbook that openpyxl, which is not ours, has written gives the curves that its lines give as a text file, on the
// same lines.
func TestAWorkbookIsReadAsItsLines(t *testing.T) {
	data, err := os.ReadFile("workbook/testdata/scan.xlsx")
	require.NoError(t, err)
	lines, err := workbook.Text("scan.xlsx", "", data, workbook.Tab)
	require.NoError(t, err)
	book, err := intake.Read("scan.xlsx", data, text.Stated{})
	require.NoError(t, err)
	plain, err := intake.Read("scan.xlsx", lines, text.Stated{})
	require.NoError(t, err)
	require.Len(t, book.Spectra, 2)
	assert.Equal(t, plain.Spectra, book.Spectra)
	assert.Equal(t, []float64{8, 45}, []float64{book.Spectra[0].AngleDeg, book.Spectra[1].AngleDeg})
	assert.InDelta(t, 0.021177, book.Spectra[0].Values[0], 1e-15, "3 + sin(380/90) percent in make.py, to four decimals")
	assert.NotEqual(t, plain.SHA256, book.SHA256, "the export is the workbook, byte for byte")

	named, err := intake.Read("scan.xlsx", data, text.Stated{Sheet: "Scan 1"})
	require.NoError(t, err)
	assert.Equal(t, book.Spectra, named.Spectra)
}

// Which of several sheets is meant is asked; one with a formula is refused as text that cannot be read is.
func TestSheetsOfAWorkbookAreAsked(t *testing.T) {
	data, err := os.ReadFile("workbook/testdata/doubtful.xlsx")
	require.NoError(t, err)
	_, err = intake.Read("b.xlsx", data, text.Stated{})
	texttest.Refused(t, err, "b.xlsx", "the workbook has 6 sheets")
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	require.Len(t, r.Choices, 6)
	assert.Equal(t, study.Choice{Name: "sheet", Value: "formula", Meaning: "the sheet of this name"}, r.Choices[0])
	_, err = intake.Read("b.xlsx", data, text.Stated{Sheet: "formula"})
	texttest.Refused(t, err, "b.xlsx:2", `cell B2 has a formula, "=1+2"`)
	_, err = intake.Read("b.xlsx", data, text.Stated{Sheet: "Formula"})
	texttest.Refused(t, err, "b.xlsx", `the workbook has no sheet "Formula"`)
}
