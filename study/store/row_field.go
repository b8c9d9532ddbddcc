package store

import (
	"crypto/sha256"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// field is one column of a table: its name, the value that is written and where a value that
// was read goes. T is the Go type of the rows of the table.
type field[T any] struct {
	name     string
	verbatim bool // its texts are kept as they came: see checkTexts

	get func(*T) any        // returns nil, int64, float64, string or []byte
	set func(*T, any) error // null, like what a damaged file may hold instead of a value, is "", 0, NaN or no bytes
}

// fields are columns of a table, in their order.
type fields[T any] []field[T]

func (f fields[T]) names() []string {
	names := make([]string, len(f))
	for i := range f {
		names[i] = f[i].name
	}
	return names
}

// list returns the names of the columns as a query has them, each with prefix before it.
func (f fields[T]) list(prefix string) string {
	return prefix + strings.Join(f.names(), ", "+prefix)
}

// read puts the values of a row, one for each column, into v.
func (f fields[T]) read(values []any, v *T) error {
	for i := range f {
		if err := f[i].set(v, values[i]); err != nil {
			return fmt.Errorf("%s: %w", f[i].name, err)
		}
	}
	return nil
}

// pick returns the columns with these names, in the order of the names. It panics if there
// is none of a name.
func (f fields[T]) pick(names ...string) (some fields[T]) {
	for _, name := range names {
		i := slices.IndexFunc(f, func(c field[T]) bool { return c.name == name })
		if i < 0 {
			panic("store: no column " + name)
		}
		some = append(some, f[i])
	}
	return some
}

// asGiven returns the column with its texts kept as they came.
func (f field[T]) asGiven() field[T] {
	f.verbatim = true
	return f
}

// The constructors below make columns by the kind of their values. at returns the place of
// the value in a row. Those of orNull write null for the empty text, 0, NaN and infinities,
// false, and nil bytes.

func textField[T any, S ~string](name string, at func(*T) *S) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return string(*at(v)) },
		set: func(v *T, x any) error { *at(v) = S(textOf(x)); return nil }}
}

func textOrNull[T any, S ~string](name string, at func(*T) *S) field[T] {
	f := textField(name, at)
	f.get = func(v *T) any { return nullText(string(*at(v))) }
	return f
}

func wholeField[T any, I ~int | ~int64](name string, at func(*T) *I) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return int64(*at(v)) },
		set: func(v *T, x any) error { *at(v) = I(wholeOf(x)); return nil }}
}

func wholeOrNull[T any, I ~int | ~int64](name string, at func(*T) *I) field[T] {
	f := wholeField(name, at)
	f.get = func(v *T) any {
		if *at(v) == 0 {
			return nil
		}
		return int64(*at(v))
	}
	return f
}

func realField[T any, F ~float64](name string, at func(*T) *F) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return float64(*at(v)) },
		set: func(v *T, x any) error { *at(v) = F(realOf(x)); return nil }}
}

func realOrNull[T any, F ~float64](name string, at func(*T) *F) field[T] {
	f := realField(name, at)
	f.get = func(v *T) any {
		x := float64(*at(v))
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return x
	}
	return f
}

// statedOrNull is a column of numbers that may be stated.
func statedOrNull[T any](name string, at func(*T) *study.Stated) field[T] {
	return field[T]{name: name,
		get: func(v *T) any {
			if s := at(v); s.Is {
				return s.Value
			}
			return nil
		},
		set: func(v *T, x any) error {
			*at(v) = study.Stated{}
			if x != nil {
				*at(v) = study.Stated{Value: realOf(x), Is: true}
			}
			return nil
		}}
}

// wholeStatedOrNull is a column of whole numbers that may be stated.
func wholeStatedOrNull[T any](name string, at func(*T) *study.Stated) field[T] {
	f := statedOrNull(name, at)
	f.get = func(v *T) any {
		if s := at(v); s.Is {
			return int64(s.Value)
		}
		return nil
	}
	f.set = func(v *T, x any) error {
		*at(v) = study.Stated{Value: float64(wholeOf(x)), Is: x != nil}
		return nil
	}
	return f
}

func blobField[T any](name string, at func(*T) *[]byte) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return *at(v) },
		set: func(v *T, x any) error { *at(v) = bytesOf(x); return nil }}
}

func blobOrNull[T any](name string, at func(*T) *[]byte) field[T] {
	f := blobField(name, at)
	f.get = func(v *T) any {
		if *at(v) == nil {
			return nil
		}
		return *at(v)
	}
	return f
}

// sumField is a column of digests. The row holds the bytes of v itself.
func sumField[T any](name string, at func(*T) *[sha256.Size]byte) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return at(v)[:] },
		set: func(v *T, x any) error { *at(v) = sumOf(x); return nil }}
}

// flagOrNull is a column that holds yes, an int64 or a string, or null.
func flagOrNull[T any](name string, yes any, at func(*T) *bool) field[T] {
	return field[T]{name: name,
		get: func(v *T) any {
			if *at(v) {
				return yes
			}
			return nil
		},
		set: func(v *T, x any) error { *at(v) = x == yes; return nil }}
}

// wordsOrNull is a column of words, joined by a space.
func wordsOrNull[T any](name string, at func(*T) *[]string) field[T] {
	return field[T]{name: name,
		get: func(v *T) any { return nullText(strings.Join(*at(v), " ")) },
		set: func(v *T, x any) error { *at(v) = strings.Fields(textOf(x)); return nil }}
}

// numbersOrNull is a column of numbers with all their digits, joined by a space.
func numbersOrNull[T any](name string, at func(*T) *[]float64) field[T] {
	return field[T]{name: name,
		get: func(v *T) any {
			var text []byte
			for i, x := range *at(v) {
				if i > 0 {
					text = append(text, ' ')
				}
				text = strconv.AppendFloat(text, x, 'g', -1, 64)
			}
			return nullText(string(text))
		},
		set: func(v *T, x any) error {
			var numbers []float64
			for _, word := range strings.Fields(textOf(x)) {
				number, err := strconv.ParseFloat(word, 64)
				if err != nil {
					return fmt.Errorf("%q is no number", word)
				}
				numbers = append(numbers, number)
			}
			*at(v) = numbers
			return nil
		}}
}

// derived is a column that is written for other programs and that a row does not read back.
func derived[T any](name string, get func(*T) any) field[T] {
	return field[T]{name: name, get: get, set: func(*T, any) error { return nil }}
}

func nullText(s string) any {
	if s == "" {
		return nil
	}
	return s
}
