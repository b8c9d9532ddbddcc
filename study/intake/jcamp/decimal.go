package jcamp

import (
	"math"
	"math/big"
	"math/bits"
	"strconv"

	"wane/study/intake/text"
)

// decimal is a number as written: mantissa times ten to the power. Digits behind
// the 19th are dropped, which a float64 cannot show but in a tie.
type decimal struct {
	negative bool
	mantissa uint64
	power    int
	unit     int // power of ten of the last digit written
}

// mostPower bounds powers of ten: far beyond any float64.
const mostPower = 400

var one = decimal{mantissa: 1}

// whole returns an integer.
func whole(v int64) decimal {
	if v < 0 {
		return decimal{negative: true, mantissa: uint64(-v)}
	}
	return decimal{mantissa: uint64(v)}
}

// readDecimal reads the longest number at the start of b, with an exponent if
// exponents are allowed, and says how many bytes it took, 0 if none.
func readDecimal(b []byte, exponents bool) (d decimal, n int) {
	if n < len(b) && (b[n] == '-' || b[n] == '+') {
		d.negative = b[n] == '-'
		n++
	}
	digits, point := 0, -1
	for ; n < len(b); n++ {
		c := b[n] - '0'
		switch {
		case b[n] == '.' && point < 0:
			point = n
			continue
		case c > 9:
		case d.mantissa < 1e18:
			d.mantissa = d.mantissa*10 + uint64(c)
			digits++
			if point >= 0 {
				d.power--
			}
			continue
		default:
			digits++
			if point < 0 {
				d.power++
			}
			continue
		}
		break
	}
	if digits == 0 {
		return decimal{}, 0
	}
	if point >= 0 {
		d.unit = point + 1 - n
	}
	if exponents && n < len(b) && b[n]|0x20 == 'e' {
		exponent, used := text.ParseExponent(b[n:])
		d.power += exponent
		d.unit += exponent
		n += used
	}
	if d.mantissa == 0 {
		d.power = 0
	}
	if max(d.power, d.unit, -d.power, -d.unit) > mostPower {
		return decimal{}, 0
	}
	return d, n
}

// trimmed drops zeros at the end, so that products stay short.
func (d decimal) trimmed() decimal {
	for d.mantissa != 0 && d.mantissa%10 == 0 {
		d.mantissa /= 10
		d.power++
	}
	return d
}

// shifted multiplies by a power of ten.
func (d decimal) shifted(by int) decimal {
	d.power += by
	d.unit += by
	return d
}

// float returns the nearest float64, infinite if there is none.
func (d decimal) float() float64 { return d.times(one) }

// times returns the float64 nearest to the product, infinite if there is none.
func (d decimal) times(f decimal) float64 {
	high, low := bits.Mul64(d.mantissa, f.mantissa)
	power := d.power + f.power
	v, exact := text.Scaled(low, power)
	if high != 0 || !exact {
		v = nearest(high, low, power)
	}
	if d.negative != f.negative {
		return -v
	}
	return v
}

// nearest returns the float64 nearest to an integer of 128 bits times a power of
// ten. The integer is below 1e38, so that its upper half has 19 digits at most.
func nearest(high, low uint64, power int) float64 {
	var room [64]byte
	upper, lower := bits.Div64(high, low, 1e19)
	text := strconv.AppendUint(room[:0], upper, 10)
	tail := strconv.AppendUint(nil, lower, 10)
	for range 19 - len(tail) {
		text = append(text, '0')
	}
	text = append(append(text, tail...), 'e')
	text = strconv.AppendInt(text, int64(power), 10)
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return math.Inf(1) // its only error here is that of range
	}
	return v
}

// spread fills x with numbers in equal steps from first to last, each the
// float64 nearest to the exact one: ((n-1-i) first + i last) / (n-1). It needs
// two numbers or more.
func spread(x []float64, first, last decimal) {
	steps := int64(len(x) - 1)
	power := min(first.power, last.power)
	a, b := first.integer(power), last.integer(power)
	numerator := new(big.Int).Mul(a, big.NewInt(steps))
	denominator := big.NewInt(steps)
	step := new(big.Int).Sub(b, a)
	if ten := tenTo(power); power < 0 {
		denominator.Mul(denominator, ten)
	} else {
		numerator.Mul(numerator, ten)
		step.Mul(step, ten)
	}
	end := new(big.Int).Mul(step, big.NewInt(steps))
	end.Add(end, numerator)
	if exact(numerator) && exact(end) && exact(denominator) {
		// Both operands are exact, so the quotient is rounded once.
		n, s, d := numerator.Int64(), step.Int64(), float64(denominator.Int64())
		for i := range x {
			x[i] = float64(n+int64(i)*s) / d
		}
		return
	}
	d := new(big.Float).SetInt(denominator)
	quotient := new(big.Float).SetPrec(53)
	for i := range x {
		x[i], _ = quotient.Quo(new(big.Float).SetInt(numerator), d).Float64()
		numerator.Add(numerator, step)
	}
}

// integer returns the decimal over ten to a power that is not above its own.
func (d decimal) integer(power int) *big.Int {
	v := new(big.Int).SetUint64(d.mantissa)
	v.Mul(v, tenTo(d.power-power))
	if d.negative {
		v.Neg(v)
	}
	return v
}

// tenTo returns ten to the magnitude of a power.
func tenTo(power int) *big.Int {
	return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(power, -power))), nil)
}

// exact reports whether a float64 holds every integer up to this one.
func exact(v *big.Int) bool { return v.CmpAbs(big.NewInt(1<<53)) <= 0 }
