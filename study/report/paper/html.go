package paper

import (
	"fmt"
	"html"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// HTML writes the document as a page that needs nothing else and prints as the PDF does.
func (d *Document) HTML(w io.Writer) error {
	h := &htmlWriter{d: d, widths: map[string]string{}}
	for _, b := range d.Blocks {
		if err := b.html(h); err != nil {
			return err
		}
	}
	if d.Footer != "" {
		h.element("footer", d.Footer)
	}
	style := d.style()
	for _, class := range slices.Sorted(maps.Keys(h.widths)) {
		style += fmt.Sprintf(".%s { width: %s; }\n", class, h.widths[class])
	}
	_, err := fmt.Fprintf(w, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"+
		"<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>%s</title>\n<style>\n%s</style>\n"+
		"</head>\n<body>\n%s</body>\n</html>\n", html.EscapeString(plain(d.Title)), style, h.out.String())
	return err
}

// htmlWriter writes blocks below one another.
type htmlWriter struct {
	d      *Document
	out    strings.Builder
	titles int
	widths map[string]string // of columns, by their classes
}

func (h *htmlWriter) line(text string) {
	h.out.WriteString(text)
	h.out.WriteByte('\n')
}

// shown is a text of others: it changes the direction of nothing around it.
func shown(text string) string { return "<bdi>" + html.EscapeString(plain(text)) + "</bdi>" }

// element writes a text in an element.
func (h *htmlWriter) element(name, text string) {
	h.line("<" + name + ">" + shown(text) + "</" + name + ">")
}

func mm(length float64) string { return strconv.FormatFloat(length, 'f', -1, 64) + "mm" }

// style returns the rules of the page, whose lengths are those of the PDF.
func (d *Document) style() string {
	g := d.Size.Labels()
	edge := margin
	if d.Footer == "" { // labels lie up to the edge of the paper
		edge = 0
	}
	columns := strings.Repeat(" "+mm(g.Width), g.Columns)
	return fmt.Sprintf(`@page { size: %s %s; margin: %s; }
body { font: 9.5pt/1.3 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff; margin: 0 auto; max-width: %s; }
h1 { font-size: 16pt; margin: 0 0 2mm; }
h2 { font-size: 12pt; margin: 3mm 0 1mm; break-after: avoid; }
p { margin: 0 0 1.5mm; }
ul, ol { margin: 0 0 1.5mm; padding-left: 6mm; }
.frame { border: 0.6mm solid #000; padding: 2mm 2.5mm 0.5mm; margin: 1mm 0 2mm; break-inside: avoid; }
.frame h2 { margin-top: 0; }
dl { display: grid; grid-template-columns: 1fr 1fr; gap: 1mm 4mm; margin: 0 0 2mm; }
dl div { border: 0.2mm solid #000; min-height: 8mm; padding: 0.4mm 1mm; break-inside: avoid; }
dt { font-size: 8pt; }
dd { margin: 0; font-weight: bold; }
.choice span { margin-right: 4mm; }
.box { display: inline-block; width: 3.4mm; height: 3.4mm; border: 0.2mm solid #000; margin: 0 1.3mm 0 0;
  vertical-align: -0.4mm; text-align: center; line-height: 3.4mm; font-weight: bold; }
table { border-collapse: collapse; width: 100%%; table-layout: fixed; margin: 0 0 2mm; }
th, td { border: 0.2mm solid #000; padding: 1mm; text-align: left; vertical-align: top; height: 4.5mm;
  overflow-wrap: anywhere; }
tbody { break-inside: avoid; border-bottom: 0.5mm solid #000; }
.new-page { break-before: page; }
.banner { display: grid; grid-template-columns: 1fr 42mm; gap: 4mm; }
.banner .code { font-size: 40pt; line-height: 1.1; font-weight: bold; overflow-wrap: anywhere; }
.banner p { font-size: 11pt; }
.labels { display: grid; grid-template-columns:%s; column-gap: %s; grid-auto-rows: %s; padding: %s 0 0 %s;
  break-after: page; overflow: hidden; }
.label { display: flex; justify-content: space-between; align-items: center; overflow: hidden; padding: 0 3.5mm;
  outline: 0.1mm dotted #aaa; font-size: 8pt; line-height: 1.2; }
.label > div { overflow-wrap: anywhere; min-width: 0; max-height: 100%%; overflow: hidden; }
.label p { margin: 0; }
.label .code { font-size: 13pt; font-weight: bold; }
.label .code.long { font-size: 7.5pt; }
.label svg { flex: none; }
footer { font-size: 8pt; margin-top: 3mm; }
`, mm(d.Size.Width), mm(d.Size.Height), mm(edge), mm(d.Size.Width-2*edge), columns,
		mm(g.GapX), mm(g.Height), mm(g.Top), mm(g.Left))
}

func (b Heading) html(h *htmlWriter) error {
	name := "h2"
	if b.Level == 1 && h.titles == 0 { // a page has one title, and others of its parts
		name = "h1"
		h.titles++
	}
	h.element(name, b.Text)
	return nil
}

func (b Text) html(h *htmlWriter) error {
	h.element("p", string(b))
	return nil
}

func (b List) html(h *htmlWriter) error {
	if len(b.Items) == 0 {
		return nil
	}
	name := "ul"
	if b.Numbered {
		name = "ol"
	}
	h.line("<" + name + ">")
	for _, item := range b.Items {
		h.element("li", item)
	}
	h.line("</" + name + ">")
	return nil
}

func (b Frame) html(h *htmlWriter) error {
	h.line(`<div class="frame">`)
	h.element("h2", b.Heading)
	err := List{Items: b.Items}.html(h)
	h.line("</div>")
	return err
}

func (b Fields) html(h *htmlWriter) error {
	h.line("<dl>")
	for _, f := range b {
		h.line("<div><dt>" + shown(f.Label) + "</dt><dd>" + shown(f.Value) + "</dd></div>")
	}
	h.line("</dl>")
	return nil
}

func (b Choice) html(h *htmlWriter) error {
	h.out.WriteString(`<p class="choice"><strong>` + shown(b.Label) + "</strong> ")
	for _, word := range b.Words {
		tick := ""
		if word == b.Chosen {
			tick = "×"
		}
		h.out.WriteString(`<span><span class="box">` + tick + "</span>" + shown(word) + "</span> ")
	}
	h.line("</p>")
	return nil
}

func (b Table) html(h *htmlWriter) error {
	sum := 0.0
	for _, c := range b.Columns {
		sum += c.Width
	}
	h.line("<table>")
	h.line("<colgroup>")
	for _, c := range b.Columns {
		share := 1000 * c.Width / sum
		class := fmt.Sprintf("w%.0f", share)
		h.widths[class] = fmt.Sprintf("%.1f%%", share/10)
		h.line(`<col class="` + class + `">`)
	}
	h.line("</colgroup>")
	h.line("<thead>\n<tr>")
	for _, c := range b.Columns {
		h.line(`<th scope="col">` + shown(c.Head) + "</th>")
	}
	h.line("</tr>\n</thead>")
	for _, group := range b.Groups {
		h.line("<tbody>")
		for k, row := range group {
			h.line("<tr>")
			for i, c := range row {
				cell := "<td>"
				switch {
				case group[0][i].Down && k > 0:
					continue // the first one goes down to here
				case c.Down && len(group) > 1:
					cell = fmt.Sprintf(`<td rowspan="%d">`, len(group))
				}
				text := shown(c.Text)
				if c.Bold {
					text = "<strong>" + text + "</strong>"
				}
				h.line(cell + text + strings.Repeat(`<span class="box"></span>`, c.Boxes) + "</td>")
			}
			h.line("</tr>")
		}
		h.line("</tbody>")
	}
	h.line("</table>")
	return nil
}

// code writes a two-dimensional code as a drawing within the page.
func (h *htmlWriter) code(text string, side float64) error {
	m, err := encode(text, side)
	if err != nil {
		return err
	}
	var path strings.Builder
	m.runs(func(x, y, n int) { fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quietZone, y+quietZone, n, n) })
	all := m.modules + 2*quietZone
	h.line(fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" viewBox="0 0 %d %d" role="img" `+
		`shape-rendering="crispEdges"><title>code: %s</title><path d="%s"/></svg>`,
		mm(side), mm(side), all, all, html.EscapeString(plain(text)), path.String()))
	return nil
}

// longCode is the number of letters above which a code is set in small ones on a label.
const longCode = 14

// below writes a code in letters, and what is said of it.
func (h *htmlWriter) below(code string, below []string) {
	class := "code"
	if utf8.RuneCountInString(code) > longCode {
		class = "code long"
	}
	h.line(`<div><p class="` + class + `">` + shown(code) + "</p>")
	for _, text := range below {
		h.element("p", text)
	}
	h.line("</div>")
}

func (b Banner) html(h *htmlWriter) error {
	h.line(`<div class="banner">`)
	h.below(b.Code, b.Below)
	err := h.code(b.Code, bannerSide)
	h.line("</div>")
	return err
}

func (b Labels) html(h *htmlWriter) error {
	g := h.d.Size.Labels()
	page := g.Columns * g.Rows
	for i := range b.Skip + len(b.Labels) {
		if i%page == 0 {
			h.line(`<div class="labels">`)
		}
		if i < b.Skip {
			h.line("<div></div>")
		} else {
			l := b.Labels[i-b.Skip]
			h.line(`<div class="label">`)
			h.below(l.Code, l.Below)
			if err := h.code(l.Code, g.side()); err != nil {
				return err
			}
			h.line("</div>")
		}
		if (i+1)%page == 0 || i+1 == b.Skip+len(b.Labels) {
			h.line("</div>")
		}
	}
	return nil
}

func (NewPage) html(h *htmlWriter) error {
	h.line(`<div class="new-page"></div>`)
	return nil
}
