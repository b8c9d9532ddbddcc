package placing

import (
	"fmt"
	"math"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// What several samples show that one does not: which parts of their names and headers vary.

var nameParts = regexp.MustCompile(`[0-9]+|[A-Za-z]+|.`)

// isDigits reports whether a part of a name is a number.
func isDigits(part string) bool { return part[0] >= '0' && part[0] <= '9' }

// filesAlike proposes a pattern for files named as the samples are: what varies is a gap. Where their names are
// not built alike, it is that of the first.
func filesAlike(samples []Sample) string {
	otherwise := filesLike(samples[0].Path)
	if len(samples) == 1 {
		return otherwise
	}
	var names [][]string // their parts
	for _, s := range samples {
		base := path.Base(filepath.ToSlash(s.Path))
		if parts := nameParts.FindAllString(base, -1); !isPattern(base) && (len(names) == 0 || len(parts) == len(names[0])) {
			names = append(names, parts)
			continue
		}
		return otherwise
	}
	text := alikeText(names)
	p, err := parsePathPattern(text)
	if err != nil {
		return otherwise
	}
	for _, s := range samples {
		if ok, err := p.match(filepath.ToSlash(s.Path), map[string]string{}); !ok || err != nil {
			return otherwise
		}
	}
	return text
}

// alikeText is a pattern for names of as many parts: what stands before a pull or a spot is the coupon, and digits
// that vary are numbers.
func alikeText(names [][]string) string {
	first := names[0]
	varies := make([]bool, len(first))
	for i := range first {
		varies[i] = slices.ContainsFunc(names, func(parts []string) bool { return parts[i] != first[i] })
	}
	from := couponParts(first, varies)
	var b strings.Builder
	if from > 0 {
		b.WriteString("{coupon}")
	}
	gaps, open := 1, false // open: the text ends in a gap, which takes what varies next to it
	for i := from; i < len(first); i++ {
		label := ""
		if i > 0 {
			label = strings.ToLower(first[i-1])
		}
		labelled := (label == "pull" || label == "spot") && isDigits(first[i])
		switch {
		case labelled:
			b.WriteString("{" + label + ":number}")
		case !varies[i]:
			b.WriteString(first[i])
		case open:
		case isDigits(first[i]) && (i+1 == len(first) || !varies[i+1]):
			gaps++
			b.WriteString("{part" + strconv.Itoa(gaps) + ":number}")
		default:
			gaps++
			b.WriteString("{part" + strconv.Itoa(gaps) + "}")
		}
		open = labelled || varies[i]
	}
	return b.String()
}

// couponParts counts the parts of a name that are the code of the coupon: up to the word pull or spot and a
// number, or to what varies first and what follows it to a separator.
func couponParts(parts []string, varies []bool) int {
	n := len(parts)
	for i := 0; i+1 < len(parts); i++ {
		if word := strings.ToLower(parts[i]); (word == "pull" || word == "spot") && isDigits(parts[i+1]) {
			n = i
			break
		}
	}
	if n == len(parts) {
		n = max(0, slices.Index(varies, true))
		for n < len(parts) && !isSeparator(parts[n]) {
			n++
		}
	}
	for n > 0 && isSeparator(parts[n-1]) {
		n--
	}
	return n
}

func isSeparator(part string) bool { return strings.Contains("-_ .", part) }

// mostDraftHeader is how many lines of the header a draft proposes.
const mostDraftHeader = 20

var labelledLine = regexp.MustCompile(`^([^:=]+[:=] ?)(.+)$`)

// headerAlike proposes patterns for lines of the header that all samples have, with other texts behind the same
// label, and the last words in which all agree, such as a unit, behind the gap; each with what the samples say.
func headerAlike(samples []Sample) (proposals []string) {
	names := map[string]bool{}
	for _, line := range samples[0].Header {
		at := labelledLine.FindStringSubmatch(headerWords(line))
		if at == nil || isPattern(at[1]) || len(proposals) == mostDraftHeader {
			continue
		}
		values := []string{at[2]}
		for _, s := range samples[1:] {
			for _, other := range s.Header {
				if value, ok := strings.CutPrefix(headerWords(other), at[1]); ok && value != "" {
					values = append(values, value)
					break
				}
			}
		}
		name := gapName(at[1])
		if len(values) < len(samples) || len(slices.Compact(slices.Sorted(slices.Values(values)))) == 1 || names[name] {
			continue
		}
		names[name] = true
		unit := lastWordsAlike(values)
		if isPattern(unit) {
			unit = ""
		}
		for i := range values {
			values[i] = strings.TrimSuffix(values[i], unit)
		}
		proposals = append(proposals, fmt.Sprintf("%s   # %s", yamlText(at[1]+"{"+name+"}"+unit),
			strings.Join(values[:min(len(values), 3)], ", ")))
	}
	return proposals
}

// lastWordsAlike returns the last words that all texts have, with the space before them; at least one word of each is
// not among them.
func lastWordsAlike(texts []string) string {
	end := texts[0]
	for {
		_, after, found := strings.Cut(strings.TrimPrefix(end, " "), " ")
		if !found {
			return ""
		}
		end = " " + after
		if !slices.ContainsFunc(texts, func(t string) bool { return !strings.HasSuffix(t, end) || len(t) == len(end) }) {
			return end
		}
	}
}

// anglesOf returns the angles that samples state for a column with a heading, each once, in the order of samples.
func anglesOf(samples []Sample, heading string) (angles []string) {
	for _, s := range samples {
		for _, x := range s.Spectra {
			if angle := strconv.FormatFloat(x.AngleDeg, 'f', -1, 64); x.Heading == heading && !math.IsNaN(x.AngleDeg) &&
				!slices.Contains(angles, angle) {
				angles = append(angles, angle)
			}
		}
	}
	return angles
}

// gapName makes a name of a gap from a label.
func gapName(label string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(label) {
		if c >= 'a' && c <= 'z' {
			b.WriteRune(c)
		} else if b.Len() > 0 {
			break
		}
	}
	if b.Len() == 0 {
		return "text"
	}
	return b.String()
}

// otherColumns names the samples whose columns are not headed as those of the first.
func otherColumns(samples []Sample) (names []string) {
	headings := func(s *Sample) (all []string) {
		for i := range s.Spectra {
			all = append(all, study.Shown(s.Spectra[i].Heading))
		}
		return all
	}
	for i := range samples[1:] {
		if !slices.Equal(headings(&samples[0]), headings(&samples[i+1])) {
			names = append(names, filepath.Base(samples[i+1].Path))
		}
	}
	return names
}
