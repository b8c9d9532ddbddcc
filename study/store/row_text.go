package store

import "wane/study"

// foreign are the columns, by table, whose texts are kept as they came, whatever they
// hold: names of files, headings, profiles, and what the program itself wrote of rows that
// are there. All others take only a text that [study.CheckText] lets pass.
var foreign = map[string][]string{
	"export":  {"name"},
	"reading": {"heading"},
	"profile": {"text"},
	"hold":    {"guard", "reason"},
	"fit":     {"coupon", "spot", "condition", "session", "state", "model", "flags"},
}

// isForeign returns, for each column of a table, whether it is one of foreign.
func isForeign(table string, columns []string) []bool {
	is := make([]bool, len(columns))
	for i, c := range columns {
		for _, f := range foreign[table] {
			is[i] = is[i] || c == f
		}
	}
	return is
}

// checkTexts refuses a row of t with a text that hides something.
func checkTexts(t *table, r row) error {
	for i, v := range r {
		text, ok := v.(string)
		if !ok || t.foreign[i] {
			continue
		}
		if fault, try := study.CheckText(text); fault != "" {
			return &study.Refusal{Fault: t.columns[i] + ": " + fault, Try: try}
		}
	}
	return nil
}
