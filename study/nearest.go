package study

import (
	"regexp"
	"strings"
)

// Nearest returns the word of known that a person who wrote word most likely meant: one that
// differs only in case, else the only one that differs only in case and zeros before numbers
// (A1 and A01), else the one with the least distance, if that is at most a third of the
// characters of word or 1 and some characters agree, else the only one that begins with word.
// It returns "" if there is none, or if several are equally near.
func Nearest(word string, known []string) string {
	if same := sameNumbers(word, known); same != "" {
		return same
	}
	lower := strings.ToLower(word)
	near, least := "", max(1, len([]rune(word))/3)+1
	begin := ""
	for _, k := range known {
		candidate := strings.ToLower(k)
		switch d := distance([]rune(lower), []rune(candidate)); {
		case k == word || d > least || d >= max(len([]rune(lower)), len([]rune(candidate))):
		case d < least:
			near, least = k, d
		case near != "" && near != k:
			near = severalWords
		}
		if strings.HasPrefix(candidate, lower) && word != "" {
			if begin != "" {
				begin = severalWords
			} else {
				begin = k
			}
		}
	}
	switch {
	case near == severalWords:
		return ""
	case near != "":
		return near
	case begin == severalWords:
		return ""
	}
	return begin
}

// sameNumbers returns the only word of known that is word but for case and zeros before numbers,
// or one that differs only in case; else "".
func sameNumbers(word string, known []string) (same string) {
	for _, k := range known {
		switch {
		case k == word || plainNumbers(k) != plainNumbers(word):
		case strings.EqualFold(k, word):
			return k
		case same == "" || same == k:
			same = k
		default:
			same = severalWords
		}
	}
	if same == severalWords {
		return ""
	}
	return same
}

var zerosBefore = regexp.MustCompile(`(^|[^0-9])0+([0-9])`)

// plainNumbers writes a word in lower case, without zeros before its numbers.
func plainNumbers(word string) string {
	return zerosBefore.ReplaceAllString(strings.ToLower(word), "$1$2")
}

// severalWords stands for several words that are equally near.
const severalWords = "\x00"

// distance returns the least number of characters to insert, delete, replace or exchange with
// their neighbour that turns a into b, without a second change of any place (optimal string
// alignment).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for k := range last {
		last[k] = k
	}
	for i := range a {
		row[0] = i + 1
		for k := range b {
			cost := 1
			if a[i] == b[k] {
				cost = 0
			}
			row[k+1] = min(last[k+1]+1, row[k]+1, last[k]+cost)
			if i > 0 && k > 0 && a[i] == b[k-1] && a[i-1] == b[k] {
				row[k+1] = min(row[k+1], before[k-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// DidYouMean returns what to try after an unknown word: the nearest of known as a question, and
// otherwise.
func DidYouMean(word string, known []string, otherwise string) string {
	if near := Nearest(word, known); near != "" {
		return "did you mean " + Shown(near) + "? otherwise " + otherwise
	}
	return otherwise
}
