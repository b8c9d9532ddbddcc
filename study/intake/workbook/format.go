package workbook

import (
	"slices"
	"strings"
)

// format is what the format of a number says of it.
type format struct {
	date, percent bool
	zeros         int // the number of digits of a format that is nothing but zeros, such as 000; else 0
}

// dateFormats are the numbers of built-in formats of days and hours. Source: ECMA-376 part 1, 18.8.30, with those of
// other languages (27 to 36 and 50 to 58), from memory.
var dateFormats = []int{14, 15, 16, 17, 18, 19, 20, 21, 22, 27, 28, 29, 30, 31, 32, 33, 34, 35, 36, 45, 46, 47, 50, 51, 52, 53,
	54, 55, 56, 57, 58}

// format returns the format of a style.
func (r *reader) format(style int) (format, error) {
	if f, known := r.formats[style]; known || style == 0 {
		return f, nil
	}
	s, err := r.book.GetStyle(style)
	if err != nil {
		return format{}, r.broken(err)
	}
	f := format{date: slices.Contains(dateFormats, s.NumFmt), percent: s.NumFmt == 9 || s.NumFmt == 10}
	if s.CustomNumFmt != nil {
		f = customFormat(*s.CustomNumFmt)
	}
	r.formats[style] = f
	return f, nil
}

// customFormat reads a format as a person writes it, such as "dd.mm.yyyy": the part for numbers above 0, without texts
// in quotation marks, in brackets or behind a backslash.
func customFormat(code string) (f format) {
	var plain strings.Builder
	var until rune // the end of what is skipped
	skip := false  // the next character
	for _, c := range strings.ToLower(code) {
		switch {
		case skip:
			skip = false
		case until != 0:
			if c == until {
				until = 0
			}
		case c == ';':
			return readFormat(plain.String())
		case c == '"':
			until = '"'
		case c == '[':
			until = ']'
		case c == '\\' || c == '_' || c == '*':
			skip = true
		default:
			plain.WriteRune(c)
		}
	}
	return readFormat(plain.String())
}

func readFormat(plain string) format {
	f := format{percent: strings.Contains(plain, "%"), date: plain != "general" && strings.ContainsAny(plain, "ymdhs")}
	if len(plain) > 1 && strings.Trim(plain, "0") == "" {
		f.zeros = len(plain)
	}
	return f
}
