package store

import "wane/study"

// checkTexts refuses a row of t with a text that hides something. Columns that are verbatim keep
// their texts as they came, whatever they hold: names of files, headings, profiles, and what the
// program itself wrote of rows that are there.
func checkTexts(t *table, r row) error {
	for i, v := range r {
		text, ok := v.(string)
		if !ok || t.verbatim[i] {
			continue
		}
		if fault, try := study.CheckText(text); fault != "" {
			return &study.Refusal{Fault: t.columns[i] + ": " + fault, Try: try}
		}
	}
	return nil
}
