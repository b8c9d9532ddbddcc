package store

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// A row is written as one line, an object of JSON: the values under the names of their columns,
// in their order, without those that are null, and the checksum of the row as the last. A number
// with a point or an exponent is a float64, any other an int64; bytes are {"base64":"..."}, and
// a text that is no UTF-8 is {"text":"..."} with its bytes in base64. There is one way to write a
// row, so that a line which reads back as a row and is written otherwise was altered.

// The names under which values stand that JSON has no form for.
const (
	inBase64     = "base64"
	textInBase64 = "text"
)

// appendLine appends a row of t and its checksum.
func (t *table) appendLine(dst []byte, r row, crc int64) ([]byte, error) {
	dst = append(dst, '{')
	for i, v := range r {
		if v == nil {
			continue
		}
		dst = append(append(dst, '"'), t.columns[i]...)
		dst = append(dst, '"', ':')
		var err error
		if dst, err = appendJSON(dst, v); err != nil {
			return nil, damaged(t.name, r.whole(0), fmt.Errorf("%s: %w", t.columns[i], err))
		}
		dst = append(dst, ',')
	}
	dst = append(dst, `"crc":`...)
	return append(strconv.AppendInt(dst, crc, 10), '}', '\n'), nil
}

func appendJSON(dst []byte, value any) ([]byte, error) {
	switch v := value.(type) {
	case int64:
		return strconv.AppendInt(dst, v, 10), nil
	case float64:
		if math.IsInf(v, 0) {
			return nil, errNotFinite
		}
		start := len(dst)
		dst = strconv.AppendFloat(dst, v+0, 'g', -1, 64)
		if !bytes.ContainsAny(dst[start:], ".e") {
			dst = append(dst, ".0"...)
		}
		return dst, nil
	case string:
		if !utf8.ValidString(v) {
			return appendBase64(dst, textInBase64, []byte(v)), nil
		}
		quoted, err := json.Marshal(v)
		return append(dst, quoted...), err
	case []byte:
		return appendBase64(dst, inBase64, v), nil
	}
	panic(fmt.Sprintf("store: a row cannot contain a %T", value))
}

func appendBase64(dst []byte, name string, data []byte) []byte {
	dst = append(append(append(dst, `{"`...), name...), `":"`...)
	dst = base64.StdEncoding.AppendEncode(dst, data)
	return append(dst, `"}`...)
}

var errAltered = errors.New("the line is not written as an export writes it")

// parseLine reads a line, without its end, that appendLine wrote.
func (t *table) parseLine(line []byte) (r row, crc int64, err error) {
	r = make(row, len(t.columns))
	d := json.NewDecoder(bytes.NewReader(line))
	d.UseNumber()
	if err := expect(d, json.Delim('{')); err != nil {
		return nil, 0, err
	}
	found := false
	for d.More() {
		name, v, err := parseMember(d)
		if err != nil {
			return nil, 0, err
		}
		if name == "crc" {
			crc, found = v.(int64)
			continue
		}
		i := slices.Index(t.columns, name)
		if i < 0 {
			return nil, 0, fmt.Errorf("the table has no column %q", name)
		}
		r[i] = v
	}
	if err := expect(d, json.Delim('}')); err != nil {
		return nil, 0, err
	}
	if _, err := d.Token(); err != io.EOF || !found {
		return nil, 0, errAltered
	}
	again, err := t.appendLine(nil, r, crc)
	if err == nil && !bytes.Equal(again[:len(again)-1], line) {
		err = errAltered
	}
	return r, crc, err
}

// expect takes the next token, which must be this one.
func expect(d *json.Decoder, want json.Delim) error {
	token, err := d.Token()
	if err != nil {
		return fmt.Errorf("this is no JSON: %w", err)
	}
	if token != want {
		return errAltered
	}
	return nil
}

// parseMember reads a name and its value: an int64, a float64, a string or a []byte.
func parseMember(d *json.Decoder) (name string, value any, err error) {
	token, err := d.Token()
	if err != nil {
		return "", nil, fmt.Errorf("this is no JSON: %w", err)
	}
	name, _ = token.(string) // of an object, as the decoder makes sure
	if token, err = d.Token(); err != nil {
		return "", nil, fmt.Errorf("this is no JSON: %w", err)
	}
	switch v := token.(type) {
	case string:
		return name, v, nil
	case json.Number:
		value, err = parseNumber(string(v))
		return name, value, err
	case json.Delim:
		value, err = parseBase64(d, v)
		return name, value, err
	}
	return "", nil, errAltered
}

func parseNumber(text string) (any, error) {
	if strings.ContainsAny(text, ".eE") {
		v, err := strconv.ParseFloat(text, 64)
		return v, err
	}
	v, err := strconv.ParseInt(text, 10, 64)
	return v, err
}

// parseBase64 reads the rest of a value that JSON has no form for.
func parseBase64(d *json.Decoder, open json.Delim) (any, error) {
	if open != '{' || !d.More() {
		return nil, errAltered
	}
	name, value, err := parseMember(d)
	if err != nil {
		return nil, err
	}
	text, ok := value.(string)
	if !ok {
		return nil, errAltered
	}
	data, err := base64.StdEncoding.AppendDecode([]byte{}, []byte(text))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := expect(d, '}'); err != nil {
		return nil, err
	}
	switch name {
	case inBase64:
		return data, nil
	case textInBase64:
		return string(data), nil
	}
	return nil, errAltered
}
