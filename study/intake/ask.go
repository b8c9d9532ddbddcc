package intake

import (
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// question is a refusal that each of the choices settles, as that of [text.Asker]. To what is to
// be overruled it adds what is overruled already.
func (r grid) question(at text.Position, choices []study.Choice, orElse, fault string, args ...any) *study.Refusal {
	var all []study.Choice
	for _, c := range choices {
		if c.Name == "declared" {
			c.Value = r.alsoDeclared(c.Value)
		}
		all = append(all, c)
	}
	return r.Asker.Question(at, all, orElse, fault, args...)
}

// alsoDeclared adds what is to be overruled to what is overruled already, without the lines
// that say nothing.
func (r grid) alsoDeclared(value string) string {
	known := r.Stated.Declared
	if vain := r.declaredInVain(); len(vain) > 0 {
		useful := slices.DeleteFunc(slices.Clone(r.want.Declared), func(n int) bool { return slices.Contains(vain, n) })
		known = text.ListOf(useful)
		if r.want.IgnoreDeclared {
			known = strings.TrimSuffix("ignore,"+known, ",")
		}
	}
	if known == "" {
		return value
	}
	return known + "," + value
}
