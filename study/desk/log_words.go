package desk

import (
	"context"
	"encoding/hex"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/store"
)

// write runs do in a transaction, as [store.Store.Write] does, and says at the end of the line of the log what do did:
// which exports came in, of which coupons rows were added, and which tables were given.
func (d *Desk) write(ctx context.Context, entry *study.Entry, do func(*store.Tx) error) error {
	summary := entry.Summary
	return d.store.Write(ctx, entry, func(tx *store.Tx) error {
		entry.Summary = summary // do may run twice
		if err := do(tx); err != nil || !tx.Adds() {
			return err
		}
		deed, err := tx.Deed()
		if err == nil {
			entry.Summary += wordsOfDeed(deed)
		}
		return err
	})
}

// mostNamedInLog is how many coupons or tables a line of the log names; wane log NUMBER names all.
const mostNamedInLog = 6

// wordsOfDeed says what a transaction did, for the end of its line of the log.
func wordsOfDeed(deed *store.Deed) (words string) {
	switch {
	case deed.Exports == 1:
		words += "; export " + deed.First
	case deed.Exports > 1:
		words += "; exports " + deed.First + " to " + deed.Last
	}
	if len(deed.Coupons) > 0 {
		words += "; coupons " + namesUpTo(deed.Coupons, mostNamedInLog)
	}
	var tables []string
	for _, g := range deed.Given {
		if !slices.Contains(tables, g.Row.Name) {
			tables = append(tables, g.Row.Name)
		}
	}
	if len(tables) > 0 {
		words += "; tables " + namesUpTo(tables, mostNamedInLog)
	}
	return words
}

// amount counts things in words.
func amount(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// Deed is what the rows are about that came under one line of the log.
type Deed struct {
	Coupons                 []string // each once, sorted
	Exports                 int      // that were taken in
	FirstExport, LastExport string   // their names
	Tables                  []GivenTable
	Rows                    []string // how many rows each table of the study file got, as "coupon 12"
}

// GivenTable is a map, a roster or another table that a verb was given. The study keeps its bytes.
type GivenTable struct {
	TracedFile
	Kind string // map, roster, table (which a roster names) or measurements
}

// Deeds hands the lines of the log to yield, the oldest first, with a function that says what the line did.
func (d *Desk) Deeds(ctx context.Context, yield func(e study.Entry, did func() (*Deed, error)) error) error {
	return d.store.Log(ctx, func(e study.Entry) error {
		return yield(e, func() (deed *Deed, err error) {
			err = d.store.View(ctx, func(v *store.View) error {
				deed, err = deedOf(v, e.Number)
				return err
			})
			return deed, err
		})
	})
}

func deedOf(v *store.View, line int64) (*Deed, error) {
	did, err := v.Deed(line)
	if err != nil {
		return nil, err
	}
	deed := &Deed{Coupons: did.Coupons, Exports: did.Exports, FirstExport: did.First, LastExport: did.Last}
	for _, g := range did.Given {
		deed.Tables = append(deed.Tables, givenTableOf(g.Row))
	}
	for _, a := range did.Added {
		deed.Rows = append(deed.Rows, a.String())
	}
	return deed, nil
}

func givenTableOf(g store.Given) GivenTable {
	return GivenTable{TracedFile{g.Name, hex.EncodeToString(g.SHA256[:]), g.Size}, g.Kind}
}
