package store

import (
	"context"

	"wane/study"
)

// newVersionsTable returns a table of texts under names, each in versions. Its first column has the name of the table.
func newVersionsTable(index int, name string) *tableOf[study.Versioned] {
	return newTable(index, name, fields[study.Versioned]{
		textField(name, func(v *study.Versioned) *string { return &v.Name }),
		wholeField("version", func(v *study.Versioned) *int { return &v.Version }),
		textField("text", func(v *study.Versioned) *string { return &v.Text }).asGiven(),
	})
}

// addVersion adds text as the next version of name and returns its number. If the latest version has the same text,
// it adds nothing and returns that one. An empty name is refused.
func (tx *Tx) addVersion(t *tableOf[study.Versioned], name, text string) (version int, added bool, err error) {
	if name == "" {
		return 0, false, &study.Refusal{Fault: "the " + t.name + " has no name", Try: "name it"}
	}
	err = tx.atomically(func() error {
		last, err := findVersion(tx.ctx, prepared{tx}, t, name, 0)
		if err != nil {
			return err
		}
		if last != nil {
			version = last.Row.Version
		}
		if last != nil && last.Row.Text == text {
			return nil
		}
		version, added = version+1, true
		_, err = t.add(tx, &study.Versioned{Name: name, Version: version, Text: text})
		return err
	})
	if err != nil {
		return 0, false, err
	}
	return version, added, nil
}

// findVersion returns a version of a name; of version 0, the latest. It is nil if there is none.
func findVersion(ctx context.Context, q querier, t *tableOf[study.Versioned], name string, version int) (
	*Kept[study.Versioned], error) {
	return t.one(ctx, q, "FROM "+t.name+" WHERE "+t.name+" = ? AND ? IN (0, version) ORDER BY version DESC LIMIT 1",
		name, version)
}

// allVersions returns all versions of all names, in the order of name and version.
func allVersions(ctx context.Context, q querier, t *tableOf[study.Versioned]) (all []study.Versioned, err error) {
	err = appendRows(ctx, q, t, t.name+", version", &all)
	return all, err
}
