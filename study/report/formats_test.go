package report_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/report"
)

func stamped() study.Stamp {
	return study.Stamp{Study: "roof.wane", Made: time.Date(2031, 5, 8, 0, 0, 0, 0, time.UTC),
		Line: 41, Head: [32]byte{0xab}}
}

func write(t *testing.T, f figure, format string) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, f.Write(&out, format))
	return out.String()
}

// The quiet line of a figure says how much it is of, and from which state of which study it was drawn.
func TestFoot(t *testing.T) {
	f := spot(4)
	f.Stamp = stamped()
	texts := textsOf(t, f)
	points := 0
	for i := range f.Curves {
		points += len(f.Curves[i].NM)
	}
	assert.Equal(t, 4*181, points, "the figure of this test")
	assert.Equal(t, "n = 4 curves, 724 points. Study roof.wane, 2031-05-08, log line 41, head ab0000000000.",
		texts[len(texts)-1].Text)
	f.Stamp = study.Stamp{}
	texts = textsOf(t, f)
	assert.Equal(t, "n = 4 curves, 724 points.", texts[len(texts)-1].Text)
}

// The canvas does not write black, so that what is black and translucent would not become light on a dark page.
func TestPageFormatWritesBlack(t *testing.T) {
	assert.Regexp(t, `<path d="[^"]+" fill="#000000" fill-opacity="0\.16`, write(t, spot(1), report.FormatPage))
}

// What stands in a page of HTML has no style, script or name of its own, and its colours are those of the style sheet.
func TestPageFormat(t *testing.T) {
	for _, format := range []string{report.FormatPage, report.FormatNarrow} {
		svg := ""
		for _, f := range []figure{spot(4), pulls(12, 2), sunlight(), levels(), budget(), madeDifferences()} {
			one := write(t, f, format)
			assert.NoError(t, wellFormed(one))
			svg += one
		}
		for _, foreign := range []string{"style", "<?", "<!--", "id=", "href", "script", "font-family:"} {
			assert.NotContains(t, svg, foreign, format)
		}
		assert.Contains(t, svg, `role="img" aria-label="`)
		assert.Contains(t, svg, ">Wavelength / nm</text>")
		sheet := report.PageStyle()
		for _, m := range regexp.MustCompile(`(fill|stroke)="(#[^"]+)"`).FindAllStringSubmatch(svg, -1) {
			assert.Contains(t, sheet, `.wane-figure [`+m[1]+`="`+m[2]+`"]{`+m[1]+`:var(--wane-`+m[2][1:]+`,`+m[2]+`)}`)
			assert.Equal(t, 2, strings.Count(sheet, "--wane-"+m[2][1:]+":#"), "dark colours of %s", m[2])
		}
	}
	assert.Contains(t, write(t, spot(1), report.FormatNarrow), `viewBox="0 0 276 `)
}

// What a page names as an image is what stands in a page, with the style in it.
func TestImageFormat(t *testing.T) {
	for image, page := range map[string]string{report.FormatImage: report.FormatPage, report.FormatImageNarrow: report.FormatNarrow} {
		got := write(t, pulls(3, 2), image)
		assert.NoError(t, wellFormed(got))
		assert.Equal(t, write(t, pulls(3, 2), page), strings.Replace(got, "<style>"+report.PageStyle()+"</style>\n", "", 1), image)
		assert.Contains(t, got, "<style>", image)
	}
	assert.Contains(t, report.PageStyle(), "--wane-line-0:#3C48B4;--wane-dash-0:none;--wane-line-1:#B48478;--wane-dash-1:9 3;")
}

func wellFormed(document string) error {
	d := xml.NewDecoder(strings.NewReader(document))
	for {
		if _, err := d.Token(); err != nil {
			if err == io.EOF {
				return nil
			}
			return err
		}
	}
}

// A PDF states the day of the stamp, so that the same figure has the same bytes at any time; poppler draws it as the
// PNG is, where it is installed.
func TestPDF(t *testing.T) {
	f := spot(4)
	f.Stamp = stamped()
	first := write(t, f, "pdf")
	assert.Contains(t, first, "/CreationDate (D:20310508000000")
	time.Sleep(1100 * time.Millisecond) // the times of a PDF are in seconds
	assert.Equal(t, first, write(t, f, "pdf"))
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm (Debian poppler-utils) is not installed")
	}
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "fit.pdf"), []byte(first), 0o600))
	cmd := exec.Command(tool, "-r", "144", "-png", "-singlefile", "fit.pdf", "fit")
	cmd.Dir = folder
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	drawn, err := os.ReadFile(filepath.Join(folder, "fit.png"))
	require.NoError(t, err)
	// 4 of 255: poppler smooths edges in another way.
	assert.Less(t, meanDifference(t, drawn, []byte(write(t, f, "png"))), 4.0)
}
