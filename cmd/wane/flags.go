package main

import (
	"wane/study"
	"wane/study/evaluate"
)

// flagMeaning says what a flag of a result means.
func flagMeaning(flag string) string {
	term, ok := study.FindTerm(evaluate.Flags(), flag)
	if !ok {
		return "not documented"
	}
	return term.Meaning
}
