package store

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"

	"wane/study"
)

// row holds the values of a row in the order of the columns of its table,
// without crc: nil, int64, float64, string or []byte.
type row []any

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// checksum returns the CRC-32C of pieces, one after the other. Source: RFC 3720, 12.1.
func checksum(pieces ...[]byte) (sum uint32) {
	for _, p := range pieces {
		sum = crc32.Update(sum, castagnoli, p)
	}
	return sum
}

// The kinds of values in an encoded row.
const (
	kindInteger = 1 + iota
	kindReal
	kindText
	kindBlob
)

// longBlob is the length, in bytes, from which on a blob is encoded where it lies.
const longBlob = 1 << 16

// encode returns the canonical encoding of a row of t, which checksums and
// digests are made from, in pieces: the name of the table, then for each value that is not
// null the name of its column, its kind and the value. Names, texts and blobs
// have their length before them, as an unsigned varint; numbers take eight
// bytes, big-endian, and a negative zero counts as zero, since SQLite keeps no
// sign of it. Nulls are left out so that a column may be added to a table without
// altering what its old rows encode to.
//
// The pieces lie in room, which is overwritten and returned for the next row, and in
// the long blobs of r. It panics if r is not as long as the table is wide or holds a
// value of another type.
func encode(room []byte, t *table, r row) (pieces [][]byte, used []byte) {
	if len(r) != len(t.columns) {
		panic("store: row and table differ in width")
	}
	room = append(room[:0], t.prefix...)
	begin := 0
	for i, v := range r {
		if v == nil {
			continue
		}
		room = append(room, t.prefixes[i]...)
		if b, ok := v.([]byte); ok && len(b) >= longBlob {
			room = binary.AppendUvarint(append(room, kindBlob), uint64(len(b)))
			pieces = append(pieces, room[begin:], b)
			begin = len(room)
			continue
		}
		room = appendValue(room, v)
	}
	return append(pieces, room[begin:]), room
}

func appendValue(dst []byte, v any) []byte {
	switch v := v.(type) {
	case int64:
		return binary.BigEndian.AppendUint64(append(dst, kindInteger), uint64(v))
	case float64:
		return binary.BigEndian.AppendUint64(append(dst, kindReal), math.Float64bits(v+0))
	case string:
		return appendCounted(append(dst, kindText), v)
	case []byte:
		return appendCounted(append(dst, kindBlob), v)
	}
	panic(fmt.Sprintf("store: a row cannot hold a %T", v))
}

func appendCounted[T string | []byte](dst []byte, v T) []byte {
	return append(binary.AppendUvarint(dst, uint64(len(v))), v...)
}

// nullText returns s for a column that is null where there is no text.
func nullText(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// nullWhole returns n for a column that is null where there is no number.
func nullWhole(n int) any {
	if n == 0 {
		return nil
	}
	return int64(n)
}

// nullReal returns v for a column that is null where no number applies.
func nullReal(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// The values of a row by their position. Null, like what a damaged file may hold
// in the place of a value, is the empty text, NaN, 0 or no bytes.

func (r row) text(i int) string  { s, _ := r[i].(string); return s }
func (r row) whole(i int) int64  { n, _ := r[i].(int64); return n }
func (r row) bytes(i int) []byte { b, _ := r[i].([]byte); return b }
func (r row) real(i int) float64 {
	if v, ok := r[i].(float64); ok {
		return v
	}
	return math.NaN()
}

// sum returns the SHA-256 at position i, filled up with zeros if it is too short.
func (r row) sum(i int) (sum [sha256.Size]byte) {
	copy(sum[:], r.bytes(i))
	return sum
}

// cursor takes the values of a row one after the other.
type cursor struct {
	row  row
	next int
}

// fields returns a cursor behind the number of the row and the line of the log.
func (r row) fields() *cursor { return &cursor{r, 2} }

func (c *cursor) step() int              { c.next++; return c.next - 1 }
func (c *cursor) text() string           { return c.row.text(c.step()) }
func (c *cursor) whole() int             { return int(c.row.whole(c.step())) }
func (c *cursor) real() float64          { return c.row.real(c.step()) }
func (c *cursor) num() study.Num         { return study.Num(c.real()) }
func (c *cursor) bytes() []byte          { return c.row.bytes(c.step()) }
func (c *cursor) sum() [sha256.Size]byte { return c.row.sum(c.step()) }
