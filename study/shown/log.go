package shown

import (
	"encoding/hex"
	"encoding/json"
	"fmt"

	"wane/study"
	"wane/study/desk"
)

// Logged is a line of the history.
type Logged struct {
	study.Entry
	desk.Deed // with --full, or if a column of it is named
}

// Log is the columns of the history.
func Log() List[*Logged] {
	return List[*Logged]{
		Value("number", func(e *Logged) any { return json.Number(fmt.Sprint(e.Number)) }).Ranked(1, "", nil),
		Value("at", func(e *Logged) any { return e.At }).Ranked(3, "", nil),
		Value("who", func(e *Logged) any { return e.Who }).Ranked(1, "", nil),
		Value("verb", func(e *Logged) any { return e.Verb }).Ranked(1, "", nil),
		Value("summary", func(e *Logged) any { return e.Summary }).Ranked(1, "", nil).Folded(30),
		Value("why", func(e *Logged) any { return e.Why }).Ranked(1, "", nil).Folded(20),
		Value("software", func(e *Logged) any { return e.Software }).Ranked(4, "", nil).Folded(24),
	}
}

// Deeds is the columns that --full adds.
func Deeds() List[*Logged] {
	return List[*Logged]{
		Value("coupons", func(e *Logged) any { return append([]string{}, e.Coupons...) }),
		Value("exports", func(e *Logged) any { return json.Number(fmt.Sprint(e.Exports)) }),
		Value("first_export", func(e *Logged) any { return OrEmpty(e.FirstExport) }),
		Value("last_export", func(e *Logged) any { return OrEmpty(e.LastExport) }),
		Value("tables", func(e *Logged) any { return e.TablesOf(func(t *desk.GivenTable) string { return t.Name }) }),
		Value("tables_sha256",
			func(e *Logged) any { return e.TablesOf(func(t *desk.GivenTable) string { return t.SHA256 }) }),
		Value("rows", func(e *Logged) any { return append([]string{}, e.Rows...) }),
	}
}

// Hash is the column that --hashes adds.
func Hash() Column[*Logged] {
	return Value("hash", func(e *Logged) any { return hex.EncodeToString(e.Hash[:]) }).Ranked(1, "",
		nil)
}

// TablesOf is what is said of each table that the line used.
func (e *Logged) TablesOf(says func(*desk.GivenTable) string) []string {
	words := []string{}
	for i := range e.Tables {
		words = append(words, says(&e.Tables[i]))
	}
	return words
}
