package document_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"wane/study/report"
	"wane/study/report/document"
)

// hostile is a text that would end each place in which a text stands, if it were not escaped.
const hostile = `</style></bdi><script>alert(1)</script>"';}*/ {{.}} <img src=x onerror=alert(1)> a` + "\u202e" + `b`

// figure draws two control charts, so that letters are shared.
func figure(t *testing.T, name, text string) document.Figure {
	t.Helper()
	f := &report.Sessions{Trusted: []bool{true, false}, Standards: []report.StandardChart{{Label: text,
		Readings: []report.ChartReading{{Session: 1, Value: 0.04, Lower: 0.039, Upper: 0.041}}}}}
	var out bytes.Buffer
	require.NoError(t, f.Write(&out, "svg"))
	return document.Figure{Name: name, Caption: text, Alt: text, SVG: out.Bytes()}
}

// everything is a document with each kind of block, made of a text.
func everything(t *testing.T, text string) *document.Document {
	return &document.Document{
		Title: text, About: []document.Fact{{Name: text, Value: text}}, Notice: text, Foot: text,
		Parts: []document.Part{
			{Name: "verdicts", Title: text, Blocks: []document.Block{
				document.Verdict{About: text, Word: text, Tone: document.Good, Notices: []string{text}, Lines: []string{text},
					Quote: text},
				document.Verdict{About: "rule two", Word: "undecided", Tone: document.Open},
			}},
			{Name: "more", Title: "More", Blocks: []document.Block{
				document.Heading(text), document.Text(text), document.Formula(text), document.Notice(text), document.List{text,
					text},
				document.Facts{{Name: text, Value: text}}, figure(t, "one", text), figure(t, "two", text),
				document.Table{Name: "groups", Caption: text, Columns: []document.Column{{Head: text}, {Head: "n", Number: true}},
					Rows: [][]string{{text, "3"}, {"B", "-"}}, CSV: []byte("a,n\n")},
				document.Table{Name: "long", Caption: text, CSV: []byte("a\n"), Hidden: true},
				document.Table{Name: "none", Caption: "no file", Columns: []document.Column{{Head: "a", Code: true}}},
			}},
		},
	}
}

// page writes a document and reads it as a browser does.
func page(t *testing.T, d *document.Document) (text string, root *html.Node) {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, d.HTML(&out, "r-tables"))
	root, err := html.Parse(bytes.NewReader(out.Bytes()))
	require.NoError(t, err)
	return out.String(), root
}

// each hands all elements to visit.
func each(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.ElementNode {
		visit(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		each(c, visit)
	}
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func textOf(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var out strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		out.WriteString(textOf(c))
	}
	return strings.TrimSpace(out.String())
}

// A text of others is shown as it is, wherever it stands, and adds no element, no script and no rule of style.
func TestTextsOfOthersAreTexts(t *testing.T) {
	count := func(root *html.Node) map[string]int {
		elements := map[string]int{}
		each(root, func(n *html.Node) { elements[n.Data]++ })
		for _, drawn := range []string{"g", "use", "path"} { // the letters of a figure depend on its texts
			delete(elements, drawn)
		}
		return elements
	}
	_, harmless := page(t, everything(t, "a coupon"))
	text, root := page(t, everything(t, hostile))
	assert.Equal(t, count(harmless), count(root))
	assert.False(t, strings.Contains(text, "\u202e"), "a sign that turns the direction")
	shown := strings.ReplaceAll(hostile, "\u202e", " ")
	each(root, func(n *html.Node) {
		for _, a := range n.Attr {
			assert.False(t, strings.HasPrefix(a.Key, "on"), "%s of %s", a.Key, n.Data)
		}
		switch n.Data {
		case "title", "h1", "caption", "figcaption", "dt", "dd", "blockquote":
			if own := textOf(n); !strings.HasPrefix(own, "no file") {
				assert.True(t, strings.HasPrefix(own, shown), "%s: %s", n.Data, own)
			}
		case "style":
			assert.False(t, strings.Contains(textOf(n), "alert(1)"))
			assert.True(t, strings.Contains(textOf(n), `\3c \2f style\3e `), "the notice on paper, escaped for CSS")
		}
	})
}

// The page needs nothing outside it, has one heading of level 1, and says of each table and figure what it is to who
// cannot see it.
func TestPageIsWholeAndCanBeRead(t *testing.T) {
	text, root := page(t, everything(t, "a coupon"))
	assert.True(t, strings.HasPrefix(text, document.Begin))
	ids, levels := map[string]bool{}, map[string]int{}
	each(root, func(n *html.Node) {
		if id := attribute(n, "id"); id != "" {
			assert.False(t, ids[id], "id %s is there twice", id)
			ids[id] = true
		}
		levels[n.Data]++
		switch n.Data {
		case "html":
			assert.Equal(t, "en", attribute(n, "lang"))
		case "script", "link", "iframe", "img", "object", "base":
			t.Errorf("the page has an element %s", n.Data)
		case "th":
			assert.NotEmpty(t, attribute(n, "scope"))
		case "svg":
			assert.Equal(t, "img", attribute(n, "role"))
			assert.Equal(t, "a coupon", attribute(n, "aria-label"))
		}
	})
	each(root, func(n *html.Node) {
		if href := attribute(n, "href"); href != "" && n.Data == "a" {
			inside := strings.HasPrefix(href, "#") && ids[href[1:]]
			assert.True(t, inside || strings.HasPrefix(href, "r-tables/"), href)
		}
		if n.Data == "use" {
			assert.True(t, ids[attribute(n, "href")[1:]], "the outline of a letter is not there")
		}
		if by := attribute(n, "aria-labelledby"); by != "" {
			assert.True(t, ids[by], by)
		}
	})
	assert.Equal(t, 1, levels["h1"])
	assert.Equal(t, levels["table"], levels["caption"])
	for _, address := range []string{"://", "@import", "url("} {
		assert.False(t, strings.Contains(text, address), address)
	}
}

// Figures are XML as it was drawn, but for the letters that an earlier figure has.
func TestLettersAreThereOnce(t *testing.T) {
	text, _ := page(t, everything(t, "a coupon"))
	var figures []string
	for rest := text; ; {
		_, after, found := strings.Cut(rest, "<svg ")
		if !found {
			break
		}
		body, after, found := strings.Cut(after, "</svg>")
		require.True(t, found)
		figures, rest = append(figures, "<svg "+body+"</svg>"), after
	}
	require.Len(t, figures, 2)
	for _, f := range figures {
		assert.NoError(t, xml.Unmarshal([]byte(f), new(struct{})))
	}
	assert.Greater(t, strings.Count(figures[0], `<path id="`), 20)
	assert.Zero(t, strings.Count(figures[1], `<path id="`))
	assert.Equal(t, strings.Count(figures[0], "<use "), strings.Count(figures[1], "<use "))
}

func TestTablesHaveFiles(t *testing.T) {
	var names []string
	for _, table := range everything(t, "a coupon").Tables() {
		names = append(names, table.FileName())
	}
	assert.Equal(t, []string{"groups.csv", "long.csv"}, names)
	text, _ := page(t, everything(t, "a coupon"))
	for _, name := range names {
		assert.True(t, strings.Contains(text, fmt.Sprintf("<a href=\"r-tables/%s\">%s</a>", name, name)), name)
	}
}

// What only the program can have done wrong is a panic; what is no drawing of ours is an error.
func TestWrongDocuments(t *testing.T) {
	table := document.Table{Name: "a", Columns: []document.Column{{Head: "x"}}}
	for name, parts := range map[string][]document.Part{
		"an anchor twice": {{Name: "a"}, {Name: "a"}},
		"no anchor":       {{Name: "A b"}},
		"a table twice":   {{Name: "p", Blocks: []document.Block{table, table}}},
		"a row with other cells": {{Name: "p", Blocks: []document.Block{document.Table{Name: "t",
			Rows: [][]string{{"1"}}}}}},
		"a figure without a name": {{Name: "p", Blocks: []document.Block{document.Figure{}}}},
	} {
		assert.Panics(t, func() { _ = (&document.Document{Parts: parts}).HTML(&bytes.Buffer{}, "") }, name)
	}
	d := document.Document{Parts: []document.Part{{Name: "p", Blocks: []document.Block{document.Figure{Name: "f",
		SVG: []byte("<script>")}}}}}
	assert.ErrorContains(t, d.HTML(&bytes.Buffer{}, ""), "no drawing of ours")
}
