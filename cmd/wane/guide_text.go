package main

import (
	"regexp"
	"strings"
)

// guideWidth is the width in columns of the pages of the guide on a terminal.
const guideWidth = 96

// plainPage lays out a page of the guide, which is Markdown, as plain text of so many columns:
// headings are underlined, paragraphs and items filled, tables set in columns. What is indented by
// four spaces stays as it is. Comments of the source are omitted.
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

// plainBlock lays out what is between two blank lines.
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
		return title + "\n" + strings.Repeat(line, cellWidth(title))
	}
	var lines []string
	for _, item := range itemsOf(block) {
		mark := itemMark.FindString(item)
		rest := item[len(mark):]
		for line := range strings.SplitSeq(wrapped(plainWords(rest, width/2), width-len(mark)), "\n") {
			lines = append(lines, mark+line)
			mark = strings.Repeat(" ", len(mark))
		}
	}
	return strings.Join(lines, "\n")
}

// itemMark is what an item of a list begins with.
var itemMark = regexp.MustCompile(`^(- |[0-9]+\. )`)

// itemsOf joins the lines of a paragraph, or of each item of a list.
func itemsOf(block string) (items []string) {
	for line := range strings.SplitSeq(block, "\n") {
		if len(items) == 0 || itemMark.MatchString(line) {
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

// plainWords takes the marks of bold text off, and keeps quoted code of at most so many characters
// together.
func plainWords(s string, most int) string {
	s = quotedCode.ReplaceAllStringFunc(s, func(quoted string) string {
		if cellWidth(quoted) > most {
			return quoted
		}
		return strings.ReplaceAll(quoted, " ", unbroken)
	})
	return strings.ReplaceAll(s, "**", "")
}

// plainTable sets a table of Markdown in columns, folded until they are no wider than width.
func plainTable(block string, width int) string {
	var out strings.Builder
	var t *tableWriter
	for line := range strings.SplitSeq(block, "\n") {
		if strings.HasPrefix(line, "|---") {
			continue
		}
		cells := strings.Split(strings.TrimSuffix(strings.TrimPrefix(line, "| "), " |"), " | ")
		for i, cell := range cells {
			cells[i] = plainWords(strings.TrimSpace(cell), width/5)
		}
		if t == nil {
			t = foldedTable(page{&out, screen{width: width}}, "", cells...)
		} else if err := t.row(cells...); err != nil {
			panic(err) // a strings.Builder takes everything
		}
	}
	if err := t.end(); err != nil {
		panic(err)
	}
	return strings.TrimSuffix(out.String(), "\n")
}
