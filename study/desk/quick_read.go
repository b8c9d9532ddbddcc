package desk

import (
	"errors"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/intake/text"
)

// ExportReader reads exports for which there is no study.
type ExportReader struct {
	Stated  text.Stated      // of all exports
	Profile *placing.Profile // answers for those that it is for; nil: there is none

	// Ask adds to what is stated of an export the answer of a person to a refusal. It returns
	// the refusal if there is no answer. nil: no question is asked.
	Ask func(refused error, stated *text.Stated) error

	settled text.Stated // what was stated of the last export that was read, with the answers
}

// ReadProfile reads the profile in a file.
func ReadProfile(path string) (*placing.Profile, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return placing.ReadProfile(path, data)
}

// statedOf returns what is stated of one export.
func (r *ExportReader) statedOf(name string) (text.Stated, error) {
	if r.Profile == nil {
		return r.Stated, nil
	}
	return r.Profile.Answer(name, r.Stated)
}

// Read reads one export and asks for what it leaves open.
func (r *ExportReader) Read(name string) (export *intake.Export, err error) {
	defer study.Catch(name, &err)
	data, err := source.ReadFile(name)
	if err != nil {
		return nil, err
	}
	if r.settled, err = r.statedOf(name); err != nil {
		return nil, err
	}
	for {
		export, err := intake.Read(name, data, r.settled)
		if err == nil {
			return export, nil
		}
		if table := sheet.RefuseTable(name, data); table != nil {
			return nil, table
		}
		if r.Ask == nil {
			return nil, err
		}
		if err := r.Ask(err, &r.settled); err != nil {
			return nil, err
		}
	}
}

// Explain returns what the reader finds in an export and why it reads it so, line by line.
func (r *ExportReader) Explain(name string) (seen []string, err error) {
	defer study.Catch(name, &err)
	stated, err := r.statedOf(name)
	if err != nil {
		return nil, err
	}
	data, err := source.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return intake.Explain(name, data, stated), nil
}

// SaveAnswers writes what was stated of the last export, with the answers, as a profile into a file
// that must not exist.
func (r *ExportReader) SaveAnswers(path string) error {
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err == nil {
		_, err = f.WriteString(placing.WithAnswers(name, "", r.settled))
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return &study.Refusal{
			File: path, Fault: "could not write the profile",
			Try: "name a new file in a folder where you may write", Cause: err,
		}
	}
	return nil
}
