package main

import (
	"fmt"
	"slices"

	"wane/study/difference"
	"wane/study/shown"
)

// compareTable is the listing for people: the verdicts, the pairs, the groups, and what must be said of them.
func compareTable(p page, columns listing[shown.Compared], c *difference.Comparison) error {
	if err := writeLines(p, shown.VerdictLines(c)...); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(p, "\n%s\n", shown.CompareHead(c)); err != nil {
		return err
	}
	if c.Margin > 0 {
		columns = append(slices.Clone(columns), shown.Equivalence(c)...)
	}
	out := openRows(columns, p, "table")
	if err := writePairs(out, c); err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	if err := writeLine(p, ""); err != nil {
		return err
	}
	groups := shown.ComparedGroups(c)
	list := openRows(groups, p, "table")
	for i := range c.Groups {
		if err := list.write(&c.Groups[i]); err != nil {
			return err
		}
	}
	if err := list.end(); err != nil {
		return err
	}
	if err := writeLine(p, ""); err != nil {
		return err
	}
	return writeLines(p, shown.CompareRemarks(c)...)
}
