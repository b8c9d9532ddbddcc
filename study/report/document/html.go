package document

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strings"
)

var (
	//go:embed page.html
	pageText string
	//go:embed page.css
	styleText string
)

// Begin is what each page begins with.
const Begin = "<!DOCTYPE html>\n<html lang=\"en\" data-made-as=\"report\">\n"

// HTML writes the document. tables is the folder of its tables as the page names it, beside the page; empty: they have
// no files.
//
// It panics if an anchor is none or is there twice, or if a row has not a cell for each column.
func (d *Document) HTML(w io.Writer, tables string) error {
	d.check()
	figures := &figures{seen: map[string]bool{}}
	page, err := template.New("page").Funcs(template.FuncMap{
		"kind":  func(b Block) string { return b.kind() },
		"plain": plain,
		"svg":   figures.inline,
		"lines": plainLines,
		"class": Column.class,
		"href":  func(t Table) string { return hrefOf(tables, t) },
	}).Parse(pageText)
	if err != nil {
		return fmt.Errorf("document: could not read the page: %w", err)
	}
	var out bytes.Buffer
	out.WriteString(Begin)
	err = page.Execute(&out, struct {
		*Document
		Style, OnPaper, AtFoot template.CSS
	}{d, template.CSS(styleText), cssText(d.Notice), cssText(d.Foot)})
	if err != nil {
		return fmt.Errorf("document: could not write the page: %w", err)
	}
	_, err = w.Write(out.Bytes())
	return err
}

// hrefOf is the way from the page to the file of a table.
func hrefOf(folder string, t Table) string {
	if folder == "" || t.CSV == nil {
		return ""
	}
	return folder + "/" + t.FileName()
}

// cssText is a text as a string of a style sheet: what is not a letter, a digit or a space of ASCII is escaped, so that
// no text ends the string or the style.
func cssText(text string) template.CSS {
	var out strings.Builder
	out.WriteByte('"')
	for _, r := range plain(text) {
		if r == ' ' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			out.WriteRune(r)
			continue
		}
		fmt.Fprintf(&out, `\%x `, r) // the space ends the escape
	}
	out.WriteByte('"')
	return template.CSS(out.String())
}

// figures puts drawings into one page, in which the outlines of letters are there once.
type figures struct{ seen map[string]bool }

var (
	svgHead = regexp.MustCompile(`(?s)^.*?<svg\s+width="[^"]*" height="[^"]*" viewBox="([^"]*)"[^>]*>`)
	svgText = regexp.MustCompile(`(?s)\s*<(title|desc)>.*?</(title|desc)>\s*`)
	letter  = regexp.MustCompile(`<path id="([a-z0-9]+)" d="[^"]*"/>\n?`)
)

// inline returns a drawing as an element of the page, which has the text in place of it.
func (f *figures) inline(of Figure) (template.HTML, error) {
	head := svgHead.FindSubmatch(of.SVG)
	if head == nil {
		return "", fmt.Errorf("the figure %s is no drawing of ours", of.Name)
	}
	body := svgText.ReplaceAll(of.SVG[len(head[0]):], nil)
	body = letter.ReplaceAllFunc(body, func(element []byte) []byte {
		name := string(letter.FindSubmatch(element)[1])
		if f.seen[name] {
			return nil
		}
		f.seen[name] = true
		return element
	})
	body = bytes.ReplaceAll(body, []byte("xlink:href="), []byte("href="))
	alt := template.HTMLEscapeString(plain(of.Alt))
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-label="%s" viewBox="%s">%s`, alt, head[1], body)), nil
}
