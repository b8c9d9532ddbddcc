package store

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
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
// sign of it. Nulls are omitted so that a column may be added to a table without
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
	panic(fmt.Sprintf("store: a row cannot contain a %T", v))
}

func appendCounted[T string | []byte](dst []byte, v T) []byte {
	return append(binary.AppendUvarint(dst, uint64(len(v))), v...)
}

// The values of a row by their position.

func (r row) text(i int) string           { return textOf(r[i]) }
func (r row) whole(i int) int64           { return wholeOf(r[i]) }
func (r row) bytes(i int) []byte          { return bytesOf(r[i]) }
func (r row) sum(i int) [sha256.Size]byte { return sumOf(r[i]) }

// What a value of a row is. Null, like what a damaged file may hold in the place of a value,
// is the empty text, NaN, 0 or no bytes.

func textOf(v any) string  { s, _ := v.(string); return s }
func wholeOf(v any) int64  { n, _ := v.(int64); return n }
func bytesOf(v any) []byte { b, _ := v.([]byte); return b }

func realOf(v any) float64 {
	if x, ok := v.(float64); ok {
		return x
	}
	return math.NaN()
}

// sumOf returns the SHA-256 in v, filled up with zeros if that is too short.
func sumOf(v any) (sum [sha256.Size]byte) {
	copy(sum[:], bytesOf(v))
	return sum
}
