package store

import (
	"encoding/binary"
	"errors"
	"math"
)

// Numbers are packed exactly and, if they were written as decimals, small. The
// first byte says how:
//
//	0  float64, little-endian
//	1  decimals: a byte e, then integers m; the numbers are m / 10^e
//	2  decimals in percent: likewise, (m / 10^e) / 100
//
// Quotients are rounded to the nearest float64. The integers are given by their
// differences, the first from 0, each as a signed varint of encoding/binary
// (zig-zag, seven bits a byte, low bits first). Form 2 is for numbers that were
// read as percent and divided: the result need not be the float64 nearest to the
// decimal. A form is used only if it gives back each number bit for bit.
const (
	formFloats = iota
	formDecimal
	formPercent
)

// From here on a float64 does not hold every integer.
const mostInteger = 1 << 53

var powersOfTen = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

var errNotFinite = errors.New("not a finite number")

// pack returns values in the smallest form that keeps them. A value that is not
// finite is an error.
func pack(values []float64) ([]byte, error) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, errNotFinite
		}
	}
	for form := formDecimal; form <= formPercent; form++ {
		if b, ok := packDecimal(values, form); ok && len(b) < 1+8*len(values) {
			return b, nil
		}
	}
	b := append(make([]byte, 0, 1+8*len(values)), formFloats)
	for _, v := range values {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b, nil
}

// packDecimal packs values in form, with the least exponent that keeps them all,
// if there is one.
func packDecimal(values []float64, form int) ([]byte, bool) {
	room := make([]byte, 0, 2+2*len(values))
	for e := range powersOfTen {
		if b, ok := appendDecimal(append(room, byte(form), byte(e)), values, form, e); ok {
			return b, true
		}
	}
	return nil, false
}

// appendDecimal appends the differences of the integers that stand for values, and
// reports false at the first value that form and e do not keep bit for bit.
func appendDecimal(dst []byte, values []float64, form, e int) ([]byte, bool) {
	last := int64(0)
	for _, v := range values {
		m := integer(v, form, e)
		if m == mostInteger || math.Float64bits(decimal(m, form, e)) != math.Float64bits(v) {
			return nil, false
		}
		dst = binary.AppendVarint(dst, m-last)
		last = m
	}
	return dst, true
}

// integer returns the m that may stand for v; mostInteger if there is none.
func integer(v float64, form, e int) int64 {
	if form == formPercent {
		v *= 100
	}
	v = math.RoundToEven(v * powersOfTen[e])
	if !(math.Abs(v) < mostInteger) {
		return mostInteger
	}
	return int64(v)
}

// decimal returns the number that m stands for.
func decimal(m int64, form, e int) float64 {
	v := float64(m) / powersOfTen[e]
	if form == formPercent {
		v /= 100
	}
	return v
}

var errPacked = errors.New("the packed numbers are not whole")

// unpack returns the n numbers in b.
func unpack(b []byte, n int) ([]float64, error) {
	switch {
	case len(b) >= 2 && (b[0] == formDecimal || b[0] == formPercent) && int(b[1]) < len(powersOfTen):
		return unpackDecimal(b[2:], int(b[0]), int(b[1]), n)
	case len(b) >= 1 && b[0] == formFloats && n >= 0 && (len(b)-1)/8 == n && (len(b)-1)%8 == 0:
		values := make([]float64, n)
		for i := range values {
			values[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[1+8*i:]))
		}
		return values, nil
	}
	return nil, errPacked
}

// packed returns how many numbers are in b.
func packed(b []byte) (n int) {
	if len(b) > 0 && b[0] == formFloats {
		return (len(b) - 1) / 8
	}
	for i := 2; i < len(b); i++ {
		if b[i] < 0x80 { // the last byte of a varint
			n++
		}
	}
	return n
}

func unpackDecimal(b []byte, form, e, n int) ([]float64, error) {
	if n < 0 || n > len(b) {
		return nil, errPacked
	}
	values := make([]float64, n)
	m := int64(0)
	for i := range values {
		d, used := binary.Varint(b)
		if used <= 0 {
			return nil, errPacked
		}
		b = b[used:]
		m += d
		values[i] = decimal(m, form, e)
	}
	if len(b) > 0 {
		return nil, errPacked
	}
	return values, nil
}
