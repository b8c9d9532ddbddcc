package main

import (
	"regexp"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	pretty "github.com/jedib0t/go-pretty/v6/text"
)

// guideWidth is the width in columns of the pages of the guide on a terminal.
const guideWidth = 96

// plainPage lays out a page of the guide, which is Markdown, as plain text of so many columns:
// headings are underlined, paragraphs and items filled, tables set in columns. What is indented by
// four spaces stays as it is. Comments of the source are left out.
func plainPage(page string, width int) string {
	var out strings.Builder
	for block := range strings.SplitSeq(strings.TrimSpace(withoutComments(page)), "\n\n") {
		if block = strings.Trim(block, "\n"); block != "" {
			out.WriteString(plainBlock(block, width) + "\n\n")
		}
	}
	return strings.ReplaceAll(strings.TrimSuffix(out.String(), "\n"), unbroken, " ")
}

var comment = regexp.MustCompile(`(?m)^<!--.*-->\n`)

func withoutComments(page string) string { return comment.ReplaceAllString(page, "") }

// plainBlock lays out what stands between two blank lines.
func plainBlock(block string, width int) string {
	switch {
	case strings.HasPrefix(block, "    "):
		return block
	case strings.HasPrefix(block, "|"):
		return plainTable(block, width)
	case strings.HasPrefix(block, "#"):
		title := strings.TrimLeft(block, "# ")
		line := "-"
		if strings.HasPrefix(block, "# ") {
			line = "="
		}
		return title + "\n" + strings.Repeat(line, pretty.StringWidthWithoutEscSequences(title))
	}
	var lines []string
	for _, item := range itemsOf(block) {
		mark, rest := "", item
		if after, ok := strings.CutPrefix(item, "- "); ok {
			mark, rest = "- ", after
		}
		filled := pretty.WrapSoft(plainWords(rest), width-len(mark))
		for i, line := range strings.Split(filled, "\n") {
			if i > 0 {
				mark = strings.Repeat(" ", len(mark))
			}
			lines = append(lines, mark+strings.TrimRight(line, " "))
		}
	}
	return strings.Join(lines, "\n")
}

// itemsOf joins the lines of a paragraph, or of each item of a list.
func itemsOf(block string) (items []string) {
	for line := range strings.SplitSeq(block, "\n") {
		if len(items) == 0 || strings.HasPrefix(line, "- ") {
			items = append(items, line)
			continue
		}
		items[len(items)-1] += " " + strings.TrimSpace(line)
	}
	return items
}

// unbroken stands for a space within quoted code while lines are filled, so that a command is not
// broken.
const unbroken = "\ue000"

var quotedCode = regexp.MustCompile("`[^`]*`")

// plainWords takes the marks of bold text off, and keeps quoted code together.
func plainWords(s string) string {
	s = quotedCode.ReplaceAllStringFunc(s, func(quoted string) string { return strings.ReplaceAll(quoted, " ", unbroken) })
	return strings.ReplaceAll(s, "**", "")
}

// plainTable sets a table of Markdown in columns. The widest columns are folded until it is no
// wider than width.
func plainTable(block string, width int) string {
	const gap = 2
	var rows []table.Row
	var widths []int
	for line := range strings.SplitSeq(block, "\n") {
		cells := strings.Split(strings.Trim(line, "| "), " | ")
		if strings.HasPrefix(line, "|---") {
			continue
		}
		row := make(table.Row, len(cells))
		for i, cell := range cells {
			cell = plainWords(strings.TrimSpace(cell))
			row[i] = cell
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], pretty.StringWidthWithoutEscSequences(cell))
		}
		rows = append(rows, row)
	}
	foldWidest(widths, width-gap*len(widths))
	w := table.NewWriter()
	w.SetStyle(table.Style{
		Box:     table.BoxStyle{MiddleHorizontal: "-", PaddingRight: strings.Repeat(" ", gap)},
		Options: table.Options{SeparateHeader: true},
	})
	w.SuppressTrailingSpaces()
	w.AppendHeader(rows[0])
	w.AppendRows(rows[1:])
	configs := make([]table.ColumnConfig, len(widths))
	for i, most := range widths {
		configs[i] = table.ColumnConfig{Number: i + 1, WidthMax: most, WidthMaxEnforcer: pretty.WrapSoft}
	}
	w.SetColumnConfigs(configs)
	return w.Render()
}

// foldWidest narrows the widest of the columns until all fit.
func foldWidest(widths []int, room int) {
	total := 0
	for _, w := range widths {
		total += w
	}
	for ; total > room; total-- {
		widest := 0
		for i, w := range widths {
			if w > widths[widest] {
				widest = i
			}
		}
		widths[widest]--
	}
}
