package text

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Decoded is the text of a file. Its rows of numbers are plain ASCII in every
// encoding taken, so 8-bit text is kept as it is and only the header lines are
// converted, one by one.
type Decoded struct {
	Text     []byte
	Encoding string // in words
	Latin1   bool
}

// Decode finds the encoding of a file and removes its byte order mark.
func (a *Asker) Decode(data []byte) (Decoded, error) {
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe\x00\x00")), bytes.HasPrefix(data, []byte("\x00\x00\xfe\xff")):
		return Decoded{}, a.Refuse(Nowhere, SaveAsText, "the file is UTF-32, which is not read")
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		return eightBit(data[3:], "UTF-8 with byte order mark"), nil
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		return a.utf16(data[2:], unicode.LittleEndian, "UTF-16 LE with byte order mark")
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		return a.utf16(data[2:], unicode.BigEndian, "UTF-16 BE with byte order mark")
	}
	switch even, odd := zeros(data); {
	case odd > 60 && even < 5:
		return a.utf16(data, unicode.LittleEndian, "UTF-16 LE without byte order mark")
	case even > 60 && odd < 5:
		return a.utf16(data, unicode.BigEndian, "UTF-16 BE without byte order mark")
	case even+odd > 60:
		return Decoded{}, a.Refuse(Nowhere, SaveAsText, "the file is not text: nearly every third byte or more is zero")
	}
	return eightBit(data, "UTF-8"), nil
}

// zeros returns the share of zero bytes, in percent, at even and at odd
// positions in the first 64 kB.
func zeros(data []byte) (even, odd int) {
	data = data[:min(len(data), 1<<16)]
	if bytes.IndexByte(data, 0) < 0 {
		return 0, 0
	}
	for i, c := range data {
		if c == 0 && i%2 == 0 {
			even++
		} else if c == 0 {
			odd++
		}
	}
	half := max(1, len(data)/2)
	return 100 * even / half, 100 * odd / half
}

func eightBit(data []byte, name string) Decoded {
	if utf8.Valid(data) {
		return Decoded{Text: data, Encoding: name}
	}
	return Decoded{Text: data, Encoding: "Latin-1", Latin1: true}
}

// mostUTF16 bounds text that is held twice, as it is and decoded to up to twice as
// many bytes: far above any export. Common practice, no source.
const mostUTF16 = 32 << 20

func (a *Asker) utf16(data []byte, order unicode.Endianness, name string) (Decoded, error) {
	if len(data)%2 != 0 {
		return Decoded{}, a.Refuse(Nowhere, "copy the file again from the instrument",
			"the file is %s but has an odd number of bytes, so it was cut short", name)
	}
	if len(data) > mostUTF16 {
		return Decoded{}, a.Refuse(Nowhere, SaveAsText+", or cut it into parts", "the file is %s and has more than %d MiB",
			name, mostUTF16>>20)
	}
	decoder := unicode.UTF16(order, unicode.IgnoreBOM).NewDecoder()
	text, _, err := transform.Append(decoder, make([]byte, 0, lengthDecoded(data, order)+utf8.UTFMax), data)
	if err != nil {
		refusal := a.Refuse(Nowhere, SaveAsText, "the file could not be read as %s", name)
		refusal.Cause = err
		return Decoded{}, refusal
	}
	return Decoded{Text: text, Encoding: name}, nil
}

// lengthDecoded is how many bytes UTF-16 takes as UTF-8, or a few more: with room for all of it the decoder never holds
// the text twice.
func lengthDecoded(data []byte, order unicode.Endianness) (n int) {
	high := 1
	if order == unicode.BigEndian {
		high = 0
	}
	for i := 0; i+1 < len(data); i += 2 {
		switch unit := uint16(data[i+high])<<8 | uint16(data[i+1-high]); {
		case unit < 0x80:
			n++
		case unit < 0x800:
			n += 2
		default: // of a pair of units, which is four bytes, each counts as three
			n += 3
		}
	}
	return n
}

// Line converts a stretch of the text to UTF-8 without NUL padding.
func (s Decoded) Line(raw []byte) string {
	if bytes.IndexByte(raw, 0) >= 0 {
		raw = bytes.ReplaceAll(raw, []byte{0}, nil)
	}
	if s.Latin1 && !utf8.Valid(raw) {
		// Every byte is a Latin-1 character: decoding cannot fail.
		raw, _ = charmap.ISO8859_1.NewDecoder().Bytes(raw)
	}
	return string(raw)
}

// mostOfMessage is how many bytes of a line a message is made of.
const mostOfMessage = 4096

// Shown converts enough of a stretch of the text for a message.
func (s Decoded) Shown(raw []byte) string { return s.Line(raw[:min(len(raw), mostOfMessage)]) }

// characters counts the characters of a stretch of the text.
func (s Decoded) characters(raw []byte) int {
	if s.Latin1 {
		return len(raw)
	}
	return utf8.RuneCount(raw)
}

// Character returns which character of the line, from 1, the cell starts with
// that begins at text[at]; padding is passed over.
func (s Decoded) Character(text []byte, at int) int {
	for at < len(text)-1 && (text[at] == ' ' || text[at] == '\t') {
		at++
	}
	return s.characters(text[:at]) + 1
}

// IsBinary reports whether a stretch holds more control characters than text
// does: over four, and over one in fifty.
func IsBinary(raw []byte) bool {
	controls := 0
	for _, c := range raw {
		if c < ' ' && c != 0 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != '\v' || c == 0x7f {
			controls++
		}
	}
	return controls > 4 && controls*50 > len(raw)
}
