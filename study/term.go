package study

import "strings"

// Term explains a word in rows of results and readings: a flag, a state or the word of a guard.
// Help texts, tables of the guide and tests are made from the terms. Each word is therefore
// explained once, beside its rule.
type Term struct {
	Word    string // as in rows; a name follows a word that ends in a colon
	About   string // what the name stands for, such as NAME; empty without a colon
	Meaning string // in a sentence or two, lower case, no full stop
	Limit   string // the numbers that decide, with their units; empty if no number does
	Remedy  string // what the person can do
}

// Form returns the word as tables show it, such as not-separable:NAME.
func (t Term) Form() string { return t.Word + t.About }

// explains reports whether a word of a row is that of the term.
func (t Term) explains(word string) bool {
	return word == t.Word || strings.HasSuffix(t.Word, ":") && strings.HasPrefix(word, t.Word)
}

// FindTerm returns the term that explains a word of a row. ok is false if none does.
func FindTerm(terms []Term, word string) (t Term, ok bool) {
	for _, t := range terms {
		if t.explains(word) {
			return t, true
		}
	}
	return Term{}, false
}
