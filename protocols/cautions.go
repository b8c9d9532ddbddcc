package protocols

import (
	"slices"
	"strings"
	"unicode"
)

// Together returns the cautions of several protocols that stand on one page. One that says nothing more than another
// is there once: all its words are in the other one, which forbids nothing that it does not forbid itself.
func Together(cautions []string) (all []string) {
	for i, c := range cautions {
		covered := slices.Contains(cautions[:i], c)
		for _, other := range cautions {
			covered = covered || other != c && covers(other, c)
		}
		if !covered {
			all = append(all, c)
		}
	}
	return all
}

// forbidding are words that turn the meaning of others.
func forbidding() []string {
	return []string{"not", "no", "never", "without", "only", "unless", "except"}
}

// covers reports whether a caution says all that a shorter one does.
func covers(longer, shorter string) bool {
	has, wants := wordsOf(longer), wordsOf(shorter)
	for _, w := range wants {
		if !slices.Contains(has, w) {
			return false
		}
	}
	for _, w := range forbidding() {
		if slices.Contains(has, w) && !slices.Contains(wants, w) {
			return false
		}
	}
	return len(has) > len(wants)
}

func wordsOf(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && r != '-' })
}
