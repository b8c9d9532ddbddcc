package store_test

import (
	"bytes"
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// RFC 3720, appendix B.4 (the bytes on the wire there are the number, least
// significant byte first).
func TestChecksumIsCRC32C(t *testing.T) {
	rising, falling := make([]byte, 32), make([]byte, 32)
	for i := range 32 {
		rising[i], falling[i] = byte(i), byte(31-i)
	}
	command, err := hex.DecodeString("01c000000000000000000000000000001400000000000400" +
		"000000140000001828000000000000000200000000000000")
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		in   []byte
		want uint32
	}{
		{"32 bytes of zeros", make([]byte, 32), 0x8a9136aa},
		{"32 bytes of ones", bytes.Repeat([]byte{0xff}, 32), 0x62a8ab43},
		{"32 rising bytes", rising, 0x46dd794e},
		{"32 falling bytes", falling, 0x113fdb5c},
		{"a SCSI read command", command, 0xd9963a56},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, store.Checksum(c.in)) })
	}
}

// FIPS 180-2, appendix B: the SHA-256 of three messages, here as they stand in
// the study for exports of these bytes.
func TestExportsAreKnownBySHA256(t *testing.T) {
	for _, c := range []struct{ name, data, want string }{
		{"one block", "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{"two blocks", "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
			"248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
		{"a million a", strings.Repeat("a", 1_000_000), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, path := enrolled(t)
			_, readings := export("x", study.Unit{Coupon: "C001", Spot: "a"}, 8)
			e := study.Export{Name: "x", Data: []byte(c.data)}
			sum, err := hex.DecodeString(c.want)
			require.NoError(t, err)
			copy(e.SHA256[:], sum)
			// AddExport refuses a SHA-256 that is not that of the bytes.
			require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
				_, err := tx.AddExport(e, how, readings)
				return err
			}))
			var got string
			require.NoError(t, raw(t, path).QueryRow("SELECT export_sha256 FROM v_spectra").Scan(&got))
			assert.Equal(t, c.want, got)
			kept, err := s.Original(t.Context(), e.SHA256)
			require.NoError(t, err)
			assert.Equal(t, e, *kept)
		})
	}
}

func TestEncodedRows(t *testing.T) {
	encode := func(values ...any) string { return string(store.Encode("t", "a b c", values...)) }
	t.Run("as documented", func(t *testing.T) {
		// Worked by hand: name of the table, then name, kind and value of a (1: an
		// integer), of b (3: a text) and of c (4: a blob), all counted.
		want := "\x01t" + "\x01a\x01\x00\x00\x00\x00\x00\x00\x00\x05" + "\x01b\x03\x02xy" + "\x01c\x04\x01\xff"
		assert.Equal(t, want, encode(int64(5), "xy", []byte{0xff}))
	})
	t.Run("a long blob is counted as a short one", func(t *testing.T) {
		long := bytes.Repeat([]byte{7}, 100_000) // 0x186a0: a0, 8d, 06 as a varint of seven bits a byte
		want := "\x01t" + "\x01a\x04\xa0\x8d\x06" + string(long) + "\x01b\x03\x02xy"
		assert.Equal(t, want, encode(long, "xy", nil))
	})
	t.Run("a null leaves nothing", func(t *testing.T) {
		// So that a column can be added without altering old rows.
		assert.Equal(t, string(store.Encode("t", "a", int64(5))), encode(int64(5), nil, nil))
	})
	t.Run("a negative zero is zero", func(t *testing.T) {
		assert.Equal(t, encode(0.0, nil, nil), encode(math.Copysign(0, -1), nil, nil))
	})
	t.Run("rows that differ differ", func(t *testing.T) {
		seen := map[string]bool{}
		rows := [][]any{
			{nil, nil, nil}, {"", nil, nil}, {nil, "", nil}, {int64(0), nil, nil}, {0.0, nil, nil}, {[]byte{}, nil, nil},
			{"ab", "c", nil}, {"a", "bc", nil}, {"a", nil, "bc"}, {"a\x01b", nil, nil}, {int64(1), nil, nil}, {1.0, nil, nil},
		}
		for _, r := range rows {
			seen[encode(r...)] = true
		}
		assert.Len(t, seen, len(rows))
	})
	t.Run("another type is a programmer's error", func(t *testing.T) {
		assert.Panics(t, func() { encode(5, nil, nil) })
		assert.Panics(t, func() { encode(int64(5)) })
	})
}

// Go's lists of columns and the schema must agree, or rows would be inserted
// into, or checked without, some column.
func TestColumnsAreThoseOfTheSchema(t *testing.T) {
	_, path := create(t)
	db := raw(t, path)
	rows, err := db.Query("SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c WHERE m.type = " +
		"'table' AND c.name <> 'crc' ORDER BY m.name, c.cid")
	require.NoError(t, err)
	defer rows.Close()
	inFile := map[string][]string{}
	for rows.Next() {
		var table, column string
		require.NoError(t, rows.Scan(&table, &column))
		inFile[table] = append(inFile[table], column)
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, inFile, store.Columns())
}
