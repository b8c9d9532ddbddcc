package paper_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"wane/study"
	"wane/study/report/paper"
)

// program returns the path of a program that is not ours. Without it the test fails where the server runs, and is
// skipped elsewhere.
func program(t *testing.T, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing := fmt.Sprintf("there is no program %s; install it (Debian: apt-get install %s)", name, debian)
		if os.Getenv("CI") != "" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	return path
}

// codesOf are codes of coupons as laboratories may write them. Made up.
func codesOf() []string {
	return []string{"A01", "AU-O6", "7", "Prüfling-Ä 3", "μ², Ωm", "αβγ-δ", "Ж-17", "a coupon with a name of many words, series 3, tray 12",
		"x;y|z \"q\"", "<script>alert(1)</script>", "0000000000000001", "雨-9"}
}

func labels(size paper.Size) *paper.Document {
	d := &paper.Document{Title: "Labels", Size: size, Made: time.Date(2031, 5, 1, 12, 0, 0, 0, time.UTC)}
	block := paper.Labels{Skip: 2}
	for _, code := range codesOf() {
		block.Labels = append(block.Labels, paper.Label{Code: code, Below: []string{"exposed, coating", "exposure roof"}})
	}
	d.Blocks = []paper.Block{block}
	return d
}

// scanned returns what zbarimg, which is not ours, reads in a picture: the bytes of the code.
func scanned(t *testing.T, picture string) string {
	t.Helper()
	out, err := exec.Command(program(t, "zbarimg", "zbar-tools"), "--quiet", "--raw", "-Sbinary", picture).Output()
	require.NoError(t, err, picture)
	return string(out)
}

func save(t *testing.T, picture image.Image, file string) {
	t.Helper()
	f, err := os.Create(file)
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, picture))
	require.NoError(t, f.Close())
}

// Each label of the PDF is read back by zbarimg from a picture that pdftoppm made of the page, at the 150 points to the
// inch of a plain scanner. Neither program is ours. Codes are in UTF-8, in which the test reads them: zbarimg by
// itself guesses between that and encodings of Asia, from which QR codes come.
func TestLabelsAreReadBack(t *testing.T) {
	const perMM = 150 / 25.4
	for _, size := range paper.Sizes() {
		t.Run(size.Name, func(t *testing.T) {
			folder := t.TempDir()
			var pdf bytes.Buffer
			missing, err := labels(size).PDF(&pdf)
			require.NoError(t, err)
			assert.Equal(t, "雨", string(missing), "the font has no such letter, and its code has it all the same")
			file := filepath.Join(folder, "labels.pdf")
			require.NoError(t, os.WriteFile(file, pdf.Bytes(), 0o644))
			out, err := exec.Command(program(t, "pdftoppm", "poppler-utils"), "-r", "150", "-png", "-singlefile", file,
				filepath.Join(folder, "page")).CombinedOutput()
			require.NoError(t, err, string(out))
			f, err := os.Open(filepath.Join(folder, "page.png"))
			require.NoError(t, err)
			page, err := png.Decode(f)
			require.NoError(t, err)
			require.NoError(t, f.Close())
			g := size.Labels()
			for i, code := range codesOf() {
				at := i + 2 // two are skipped
				x, y := g.Left+float64(at%g.Columns)*(g.Width+g.GapX), g.Top+float64(at/g.Columns)*g.Height
				label := page.(interface {
					SubImage(image.Rectangle) image.Image
				}).SubImage(image.Rect(int(x*perMM), int(y*perMM), int((x+g.Width)*perMM), int((y+g.Height)*perMM)))
				save(t, label, filepath.Join(folder, "label.png"))
				assert.Equal(t, code, scanned(t, filepath.Join(folder, "label.png")))
			}
		})
	}
}

// The drawings of the HTML page hold the same codes.
func TestDrawingsOfThePageAreReadBack(t *testing.T) {
	var page bytes.Buffer
	require.NoError(t, labels(paper.Sizes()[0]).HTML(&page))
	folder := t.TempDir()
	n := 0
	for node := range parsed(t, page.String()).Descendants() {
		if node.Data != "svg" || node.Type != html.ElementNode {
			continue
		}
		file := filepath.Join(folder, fmt.Sprintf("%d.png", n))
		drawn(t, node, file)
		assert.Equal(t, codesOf()[n], scanned(t, file))
		n++
	}
	assert.Equal(t, len(codesOf()), n)
}

// drawn draws a path of rectangles M x y h n v1 h -n z into a picture, eight points to a unit.
func drawn(t *testing.T, svg *html.Node, file string) {
	t.Helper()
	box := strings.Fields(attribute(svg, "viewbox"))
	require.Len(t, box, 4)
	side, err := strconv.Atoi(box[2])
	require.NoError(t, err)
	const scale = 8
	picture := image.NewGray(image.Rect(0, 0, side*scale, side*scale))
	for i := range picture.Pix {
		picture.Pix[i] = 255
	}
	for node := range svg.Descendants() {
		for _, run := range strings.Split(attribute(node, "d"), "z") {
			var x, y, n, back int
			if run == "" {
				continue
			}
			_, err := fmt.Sscanf(run, "M%d %dh%dv1h-%d", &x, &y, &n, &back)
			require.NoError(t, err, run)
			for px := x * scale; px < (x+n)*scale; px++ {
				for py := y * scale; py < (y+1)*scale; py++ {
					picture.Set(px, py, color.Black)
				}
			}
		}
	}
	save(t, picture, file)
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if strings.EqualFold(a.Key, name) {
			return a.Val
		}
	}
	return ""
}

func parsed(t *testing.T, page string) *html.Node {
	t.Helper()
	tree, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	return tree
}

// hostile is a text that would run, turn what follows, or break the line. Made up.
const hostile = "<script>alert('x')</script>&amp; \u202eabc\u2067 \"'><img src=x onerror=y>\nsecond\x00 line"

// everything has each kind of block with a hostile text in each place.
func everything() *paper.Document {
	x := hostile
	return &paper.Document{Title: x, Footer: x, Size: paper.Sizes()[0],
		Made: time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC), Blocks: []paper.Block{
			paper.Heading{Text: x, Level: 1}, paper.Heading{Text: x, Level: 2}, paper.Text(x),
			paper.List{Items: []string{x}, Numbered: true},
			paper.Frame{Heading: x, Items: []string{x}}, paper.Fields{{Label: x, Value: x}, {Label: x}},
			paper.Choice{Label: x, Words: []string{x, "b"}, Chosen: x},
			paper.Table{Columns: []paper.Column{{Head: x, Width: 1}, {Head: "b", Width: 2}},
				Groups: [][]paper.Row{{{{Text: x, Bold: true}, {Boxes: 3}}}}},
			paper.NewPage{}, paper.Banner{Code: x, Below: []string{x}}, paper.Labels{Labels: []paper.Label{{Code: x, Below: []string{x}}}}}}
}

// Whatever a text holds, it stays a text: an HTML parser that is not ours finds no element or attribute of it, and no
// character that turns or breaks what stands around it.
func TestTextsStayTexts(t *testing.T) {
	var page bytes.Buffer
	require.NoError(t, everything().HTML(&page))
	texts := 0
	for node := range parsed(t, page.String()).Descendants() {
		switch node.Type {
		case html.ElementNode:
			assert.NotContains(t, []string{"script", "img"}, node.Data)
			for _, a := range node.Attr {
				assert.False(t, strings.HasPrefix(a.Key, "on"), a.Key)
				assert.NotContains(t, a.Val, "alert")
			}
		case html.TextNode:
			assert.False(t, strings.ContainsAny(node.Data, "\u202e\u2067\x00"), "%q", node.Data)
			if strings.Contains(node.Data, "<script>alert('x')</script>&amp; abc \"'><img src=x onerror=y> second line") {
				texts++
			}
		}
	}
	assert.Equal(t, 21, texts, "each place shows the text")

	var pdf bytes.Buffer
	_, err := everything().PDF(&pdf)
	require.NoError(t, err)
}

// The same document gives the same bytes.
func TestPagesAreTheSameAgain(t *testing.T) {
	for name, write := range map[string]func(*paper.Document, *bytes.Buffer) error{
		"pdf":  func(d *paper.Document, out *bytes.Buffer) error { _, err := d.PDF(out); return err },
		"html": func(d *paper.Document, out *bytes.Buffer) error { return d.HTML(out) },
	} {
		t.Run(name, func(t *testing.T) {
			var first, second bytes.Buffer
			require.NoError(t, write(everything(), &first))
			require.NoError(t, write(everything(), &second))
			assert.True(t, bytes.Equal(first.Bytes(), second.Bytes()))
		})
	}
}

// pdftotext, which is not ours, finds the texts of a PDF, with the head of a table on each page that has rows of it.
func TestTextsOfThePDF(t *testing.T) {
	pdftotext := program(t, "pdftotext", "poppler-utils")
	table := paper.Table{Columns: []paper.Column{{Head: "Überschrift", Width: 1}, {Head: "μ² αβγ", Width: 3}}}
	for i := range 120 {
		table.Groups = append(table.Groups, []paper.Row{{{Text: fmt.Sprintf("row-%d", i), Key: true}, {Text: "Ωm Ж"}}, {{}, {Text: "אבג"}}})
	}
	d := &paper.Document{Title: "t", Footer: "foot", Size: paper.Sizes()[1], Blocks: []paper.Block{table}}
	var pdf bytes.Buffer
	missing, err := d.PDF(&pdf)
	require.NoError(t, err)
	assert.Empty(t, missing)
	file := filepath.Join(t.TempDir(), "t.pdf")
	require.NoError(t, os.WriteFile(file, pdf.Bytes(), 0o644))
	out, err := exec.Command(pdftotext, "-layout", file, "-").Output()
	require.NoError(t, err)
	text := string(out)
	pages := strings.Split(strings.TrimSuffix(text, "\f"), "\f")
	require.Greater(t, len(pages), 4)
	for i, page := range pages {
		assert.Contains(t, page, "Überschrift")
		assert.Contains(t, page, "μ² αβγ")
		assert.Contains(t, page, fmt.Sprintf("page %d of %d", i+1, len(pages)))
	}
	for i := range 120 {
		assert.Contains(t, text, fmt.Sprintf("row-%d\n", i)[:len(fmt.Sprintf("row-%d", i))])
	}
	assert.Equal(t, 120, strings.Count(text, "Ωm Ж"))
	assert.Equal(t, 120, strings.Count(text, "אבג"), "letters that run from right to left are read in their order")
}

// A code with points too fine to print is refused.
func TestLongCodesAreRefused(t *testing.T) {
	d := &paper.Document{Size: paper.Sizes()[1],
		Blocks: []paper.Block{paper.Labels{Labels: []paper.Label{{Code: strings.Repeat("long ", 60)}}}}}
	for _, write := range []func() error{
		func() error { _, err := d.PDF(&bytes.Buffer{}); return err },
		func() error { return d.HTML(&bytes.Buffer{}) },
	} {
		var r *study.Refusal
		require.ErrorAs(t, write(), &r)
		assert.Contains(t, r.Fault, "is too long for a two-dimensional code")
	}
}

func TestWrap(t *testing.T) {
	measure := func(text string) float64 { return float64(len(text)) }
	assert.Equal(t, []string{"one two", "three", "abcdefgh", "ij"}, paper.Wrap("one two  three abcdefghij", 8, measure))
	assert.Equal(t, []string{""}, paper.Wrap(" ", 8, measure))
	assert.Equal(t, []string{"a", "b"}, paper.Wrap("ab", 0, measure), "a letter is the least")
}
