package placing

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// pattern is a text with gaps: * is any text or none, {name} at least one character that
// is to be used by that name.
type pattern struct {
	text     string
	literals []string // one more than gaps; only the first and the last may be empty
	gaps     []string // the name of each, empty for *
}

var gapNames = regexp.MustCompile(`^[a-z][a-z0-9_-]*$`)

// parsePattern reads a pattern. An error says what is wrong with it.
func parsePattern(text string) (pattern, error) {
	p, err := splitGaps(text, "*{}")
	if err != nil {
		return pattern{}, err
	}
	for i, name := range p.gaps {
		if i > 0 && p.literals[i] == "" {
			return pattern{}, fmt.Errorf("nothing stands between two gaps of the pattern %q", text)
		}
		if name != "" && slices.Contains(p.gaps[:i], name) {
			return pattern{}, fmt.Errorf("{%s} stands twice in the pattern %q", name, text)
		}
	}
	return p, nil
}

// splitGaps cuts a text at its gaps, which begin with one of the marks.
func splitGaps(text, marks string) (pattern, error) {
	p := pattern{text: text}
	rest := text
	for at := strings.IndexAny(rest, marks); at >= 0; at = strings.IndexAny(rest, marks) {
		name, used, err := gapAt(rest[at:])
		if err != nil {
			return pattern{}, fmt.Errorf("%w in %q", err, text)
		}
		p.literals, p.gaps = append(p.literals, rest[:at]), append(p.gaps, name)
		rest = rest[at+used:]
	}
	p.literals = append(p.literals, rest)
	return p, nil
}

// names returns the names of the gaps.
func (p *pattern) names() []string {
	return slices.DeleteFunc(slices.Clone(p.gaps), func(name string) bool { return name == "" })
}

// fill returns the text with what was caught in the gaps; ok is false if the name of one
// was not.
func (p *pattern) fill(caught map[string]string) (text string, ok bool) {
	if len(p.gaps) == 0 {
		return strings.Join(p.literals, ""), true
	}
	var b strings.Builder
	for i, name := range p.gaps {
		value, ok := caught[name]
		if !ok {
			return "", false
		}
		b.WriteString(p.literals[i])
		b.WriteString(value)
	}
	return b.String() + p.literals[len(p.gaps)], true
}

// gapAt reads the gap at the start of text.
func gapAt(text string) (name string, used int, err error) {
	switch text[0] {
	case '*':
		return "", 1, nil
	case '}':
		return "", 0, fmt.Errorf("a } has no {")
	}
	name, _, closed := strings.Cut(text[1:], "}")
	if !closed {
		return "", 0, fmt.Errorf("a { has no }")
	}
	if !gapNames.MatchString(name) {
		return "", 0, fmt.Errorf("{%s} is not a name of lower-case letters", name)
	}
	return name, len(name) + 2, nil
}

// isPattern reports whether a text has marks of a pattern.
func isPattern(text string) bool { return strings.ContainsAny(text, "*{}") }

// span is where a gap lies in a text.
type span struct{ from, to int }

// spans returns where the gaps lie, if the text fits: with all of them as far to the left
// as they can be, and as far to the right. Where the two are the same there is no other
// way: what lies between literals only has to leave room for them, so if there is one
// place further on for a literal in some way, the rightmost way has it further on too.
func (p *pattern) spans(text string) (left, right []span, ok bool) {
	last := len(p.gaps)
	if last == 0 {
		return nil, nil, text == p.literals[0]
	}
	if !strings.HasPrefix(text, p.literals[0]) || !strings.HasSuffix(text, p.literals[last]) {
		return nil, nil, false
	}
	start, end := len(p.literals[0]), len(text)-len(p.literals[last])
	left, right = make([]span, last), make([]span, last)
	at := start
	for i := range last {
		to := end
		if from := at + p.least(i); from > end {
			return nil, nil, false
		} else if i < last-1 {
			found := strings.Index(text[from:end], p.literals[i+1])
			if found < 0 {
				return nil, nil, false
			}
			to = from + found
		}
		left[i] = span{at, to}
		at = to + len(p.literals[i+1])
	}
	at = end
	for i := last - 1; i >= 0; i-- {
		from := start
		if i > 0 {
			// It is there: the leftmost way found it.
			from = strings.LastIndex(text[start:at-p.least(i)], p.literals[i]) + start + len(p.literals[i])
		}
		right[i] = span{from, at}
		at = from - len(p.literals[i])
	}
	return left, right, true
}

// least returns how many bytes a gap has at least.
func (p *pattern) least(gap int) int { return min(len(p.gaps[gap]), 1) }

// ambiguity is a name that two parts of a text could be.
type ambiguity struct {
	pattern, text, name, one, other string
}

func (a *ambiguity) Error() string {
	return fmt.Sprintf("%q fits the pattern %q in more than one way: {%s} is %q or %q", a.text, a.pattern, a.name, a.one,
		a.other)
}

// match reports whether a text fits, and adds what its gaps hold to caught. An error is
// an [*ambiguity].
func (p *pattern) match(text string, caught map[string]string) (ok bool, err error) {
	left, right, ok := p.spans(text)
	if !ok {
		return false, nil
	}
	for i, name := range p.gaps {
		if name == "" {
			continue
		}
		one, other := text[left[i].from:left[i].to], text[right[i].from:right[i].to]
		if left[i] != right[i] {
			return true, &ambiguity{p.text, text, name, one, other}
		}
		caught[name] = one
	}
	return true, nil
}

// pathPattern is a pattern of the end of a path, whose gaps do not reach over a slash.
type pathPattern struct {
	text  string
	parts []pattern // between the slashes
}

func parsePathPattern(text string) (pathPattern, error) {
	p := pathPattern{text: text}
	for _, part := range strings.Split(text, "/") {
		if part == "" {
			return pathPattern{}, fmt.Errorf("a part of the path is empty in the pattern %q", text)
		}
		parsed, err := parsePattern(part)
		if err != nil {
			return pathPattern{}, err
		}
		for _, name := range parsed.names() {
			if slices.Contains(p.names(), name) {
				return pathPattern{}, fmt.Errorf("{%s} stands twice in the pattern %q", name, text)
			}
		}
		p.parts = append(p.parts, parsed)
	}
	return p, nil
}

func (p *pathPattern) names() []string {
	var all []string
	for i := range p.parts {
		all = append(all, p.parts[i].names()...)
	}
	return all
}

// match reports whether a path with slashes ends as the pattern says, as
// [pattern.match] does.
func (p *pathPattern) match(path string, caught map[string]string) (ok bool, err error) {
	parts := strings.Split(path, "/")
	parts = parts[max(0, len(parts)-len(p.parts)):]
	if len(parts) < len(p.parts) {
		return false, nil
	}
	for i := range p.parts {
		fits, fault := p.parts[i].match(parts[i], caught)
		if !fits {
			return false, nil
		}
		if err == nil {
			err = fault
		}
	}
	return true, err
}
