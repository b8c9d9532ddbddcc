package desk

import (
	"crypto/sha256"
	"path/filepath"

	"wane/study"
	"wane/study/intake/source"
	"wane/study/store"
)

// What a person gives to a verb, beside exports.
const (
	givenMap          = "map"
	givenRoster       = "roster"
	givenByRoster     = "table" // that a row of a roster names
	givenMeasurements = "measurements"
)

// givenFiles are the tables that a person gave to a verb. The study keeps them byte for byte with the line of the log
// that used them, if that line adds anything.
type givenFiles []givenFile

type givenFile struct {
	kind string
	study.Export
}

// read reads a file, as [source.ReadFile] does, and notes it to be kept.
func (g *givenFiles) read(kind, path string) ([]byte, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	*g = append(*g, givenFile{kind, study.Export{Name: filepath.Base(path), SHA256: sha256.Sum256(data), Data: data}})
	return data, nil
}

// keep keeps the files if the transaction adds anything else. Call it last.
func (g givenFiles) keep(tx *store.Tx) error {
	if !tx.Adds() {
		return nil
	}
	for _, f := range g {
		if err := tx.Give(f.kind, f.Export); err != nil {
			return err
		}
	}
	return nil
}
