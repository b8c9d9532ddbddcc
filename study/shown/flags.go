package shown

import (
	"wane/study"
	"wane/study/evaluate"
)

// FlagMeaning says what a flag of a result means.
func FlagMeaning(flag string) string {
	term, ok := study.FindTerm(evaluate.Flags(), flag)
	if !ok {
		return "not documented"
	}
	return term.Meaning
}
