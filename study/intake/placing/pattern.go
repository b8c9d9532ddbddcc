package placing

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// pattern is a text with gaps: * is any text or none, {name} at least one character that
// is to be used by that name, {name:number} digits, which are used without zeros in front.
type pattern struct {
	text     string
	literals []string // one more than gaps; only the first and the last may be empty
	gaps     []string // the name of each, empty for *
	numbers  []bool   // of each gap: it holds digits only
}

var gapNames = regexp.MustCompile(`^[a-z][a-z0-9_-]*(:number)?$`)

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
		name, isNumber := strings.CutSuffix(name, ":number")
		p.literals, p.gaps, p.numbers = append(p.literals, rest[:at]), append(p.gaps, name), append(p.numbers, isNumber)
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
		if before, _, kind := strings.Cut(name, ":"); kind {
			return "", 0, fmt.Errorf("{%s} is neither {%s} nor {%s:number}", name, before, before)
		}
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
	if ok && slices.Contains(p.numbers, true) {
		left, right, ok = p.numberSpans(text)
	}
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
		if p.numbers[i] {
			one = cmp.Or(strings.TrimLeft(one, "0"), "0")
		}
		caught[name] = one
	}
	return true, nil
}

// mostWays bounds how many ways [pattern.numberSpans] tries. Names of files and headings have a few.
const mostWays = 10_000

// numberSpans is [pattern.spans] for a pattern with gaps that hold digits only: two ways in which the text fits,
// in which a gap with a name is different, or twice the only one. Where there are too many to be tried, the text
// does not fit.
func (p *pattern) numberSpans(text string) (one, other []span, ok bool) {
	tries := 0
	way := make([]span, 0, len(p.gaps))
	var search func(at int) (enough bool)
	search = func(at int) bool {
		if tries++; tries > mostWays {
			return true
		}
		i := len(way)
		if !strings.HasPrefix(text[at:], p.literals[i]) {
			return false
		}
		at += len(p.literals[i])
		if i == len(p.gaps) {
			switch {
			case at < len(text):
			case one == nil:
				one = slices.Clone(way)
			case p.differ(one, way):
				other = slices.Clone(way)
			}
			return other != nil
		}
		for to := at + p.least(i); to <= len(text); to++ {
			if p.numbers[i] && (text[to-1] < '0' || text[to-1] > '9') {
				break
			}
			way = append(way, span{at, to})
			enough := search(to)
			if way = way[:i]; enough {
				return true
			}
		}
		return false
	}
	search(0)
	if one == nil || tries > mostWays {
		return nil, nil, false
	}
	if other == nil {
		other = one
	}
	return one, other, true
}

// differ reports whether a gap with a name lies elsewhere in one way than in another.
func (p *pattern) differ(one, other []span) bool {
	for i, name := range p.gaps {
		if name != "" && one[i] != other[i] {
			return true
		}
	}
	return false
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
