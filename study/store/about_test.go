package store

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Every table and every column of a listing is described, and nothing that is not there.
func TestTablesAndColumnsAreDescribed(t *testing.T) {
	described := map[string]bool{}
	for _, table := range allTables() {
		assert.NotEmpty(t, tableNotes[table.name], "table %s: say in about.go what a row of it is", table.name)
		for _, c := range table.columns {
			described[c], described[table.name+"."+c] = true, true
			if unlisted[table] || notListed[c] {
				continue
			}
			n, known := noteOf(table, c)
			assert.True(t, known, "column %s.%s: say in about.go what it means", table.name, c)
			assert.NotContains(t, n.about+n.unit, "`")
			assert.NotContains(t, n.about+n.unit, "|")
		}
	}
	for name := range columnNotes {
		assert.True(t, described[name], "there is no column %s", name)
		table, column, of := strings.Cut(name, ".")
		if of {
			assert.NotEqual(t, columnNotes[column], columnNotes[name], "%s says the same for table %s", name, table)
		}
	}
	for name := range tableNotes {
		assert.True(t, describedTable(name), "there is no table %s", name)
	}
}

func describedTable(name string) bool {
	for _, t := range allTables() {
		if t.name == name {
			return true
		}
	}
	return false
}
