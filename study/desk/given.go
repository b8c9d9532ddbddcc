package desk

import (
	"crypto/sha256"
	"path/filepath"
	"slices"

	"wane/study"
	"wane/study/intake/source"
	"wane/study/intake/workbook"
	"wane/study/store"
)

// What a person gives to a verb, beside exports.
const (
	givenMap          = "map"
	givenRoster       = "roster"
	givenByRoster     = "table" // that a row of a roster names
	givenMeasurements = "measurements"
	givenCorrections  = "corrections"
)

// givenFiles are the tables that a person gave to a verb. The study keeps them byte for byte with the line of the log
// that used them, if that line adds anything.
type givenFiles []givenFile

type givenFile struct {
	kind string
	study.Export
}

// read reads a table, as [source.ReadTable] does, and notes its file to be kept: a workbook once, whatever of its sheets.
func (g *givenFiles) read(kind, path string) ([]byte, error) {
	data, err := source.ReadTable(path)
	if err != nil {
		return nil, err
	}
	file, sheet := workbook.Split(path)
	now := givenFile{kind, study.Export{Name: filepath.Base(file), SHA256: sha256.Sum256(data), Data: data}}
	same := func(o givenFile) bool { return o.kind == kind && o.Name == now.Name && o.SHA256 == now.SHA256 }
	if sheet == "" || !slices.ContainsFunc(*g, same) {
		*g = append(*g, now)
	}
	return data, nil
}

// keep keeps the files if the transaction adds anything else. Call it last.
func (g givenFiles) keep(tx *store.Tx) error {
	if !tx.Adds() {
		return nil
	}
	return g.give(tx)
}

// give keeps the files.
func (g givenFiles) give(tx *store.Tx) error {
	for _, f := range g {
		if err := tx.Give(f.kind, f.Export); err != nil {
			return err
		}
	}
	return nil
}
