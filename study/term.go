package study

import "strings"

// Term explains a word that rows of results and readings carry: a flag, a state or the word of
// a guard. Helps, tables of the guide and tests are made from the terms, so that each word is
// explained once, beside its rule.
type Term struct {
	Word    string // as rows carry it; a word that ends in a colon is followed by what it is about
	About   string // what follows the colon, as NAME; empty without a colon
	Meaning string // in a sentence or two, lower case, no full stop
	Limit   string // the numbers that decide, with their units; empty where no number does
	Remedy  string // what to do about it
}

// Form returns the word as tables show it, as not-separable:NAME.
func (t Term) Form() string { return t.Word + t.About }

// Explains reports whether a word of a row is that of the term.
func (t Term) Explains(word string) bool {
	return word == t.Word || strings.HasSuffix(t.Word, ":") && strings.HasPrefix(word, t.Word)
}

// FindTerm returns the term that explains a word of a row; not ok if none does.
func FindTerm(terms []Term, word string) (t Term, ok bool) {
	for _, t := range terms {
		if t.Explains(word) {
			return t, true
		}
	}
	return Term{}, false
}
