package fit_test

import "math"

// nistModel returns the model at parameters b and predictors x, and stores its
// derivatives by b in grad. (The formulas are those of the NIST files.)
type nistModel func(grad, b, x []float64) float64

var nistModels = map[string]nistModel{
	"Bennett5": bennett5,
	"BoxBOD":   misra1a,
	"Chwirut2": chwirut2,
	"DanWood":  danWood,
	"ENSO":     enso,
	"Eckerle4": eckerle4,
	"Gauss1":   gauss,
	"Gauss2":   gauss,
	"Hahn1":    cubicRatio,
	"Kirby2":   kirby2,
	"Lanczos3": lanczos,
	"MGH09":    mgh09,
	"MGH10":    mgh10,
	"MGH17":    mgh17,
	"Misra1a":  misra1a,
	"Misra1b":  misra1b,
	"Misra1c":  misra1c,
	"Misra1d":  misra1d,
	"Nelson":   nelson,
	"Rat42":    rat42,
	"Rat43":    rat43,
	"Roszman1": roszman1,
	"Thurber":  cubicRatio,
}

func bennett5(grad, b, x []float64) float64 {
	power := math.Pow(b[1]+x[0], -1/b[2])
	grad[0] = power
	grad[1] = -b[0] * power / (b[2] * (b[1] + x[0]))
	grad[2] = b[0] * power * math.Log(b[1]+x[0]) / (b[2] * b[2])
	return b[0] * power
}

func chwirut2(grad, b, x []float64) float64 {
	y := math.Exp(-b[0]*x[0]) / (b[1] + b[2]*x[0])
	grad[0] = -x[0] * y
	grad[1] = -y / (b[1] + b[2]*x[0])
	grad[2] = -y * x[0] / (b[1] + b[2]*x[0])
	return y
}

func danWood(grad, b, x []float64) float64 {
	power := math.Pow(x[0], b[1])
	grad[0] = power
	grad[1] = b[0] * power * math.Log(x[0])
	return b[0] * power
}

func enso(grad, b, x []float64) float64 {
	grad[0] = 1
	grad[2], grad[1] = math.Sincos(2 * math.Pi * x[0] / 12)
	y := b[0] + b[1]*grad[1] + b[2]*grad[2]
	for _, k := range []int{3, 6} { // a period, then its cosine and sine amplitudes
		phase := 2 * math.Pi * x[0] / b[k]
		sin, cos := math.Sincos(phase)
		grad[k] = (b[k+1]*sin - b[k+2]*cos) * phase / b[k]
		grad[k+1], grad[k+2] = cos, sin
		y += b[k+1]*cos + b[k+2]*sin
	}
	return y
}

func eckerle4(grad, b, x []float64) float64 {
	z := (x[0] - b[2]) / b[1]
	bell := math.Exp(-z*z/2) / b[1]
	grad[0] = bell
	grad[1] = b[0] * bell * (z*z - 1) / b[1]
	grad[2] = b[0] * bell * z / b[1]
	return b[0] * bell
}

func gauss(grad, b, x []float64) float64 {
	grad[0] = math.Exp(-b[1] * x[0])
	grad[1] = -b[0] * x[0] * grad[0]
	y := b[0] * grad[0]
	for _, k := range []int{2, 5} { // height, centre, width of a peak
		z := (x[0] - b[k+1]) / b[k+2]
		bell := math.Exp(-z * z)
		grad[k] = bell
		grad[k+1] = 2 * b[k] * bell * z / b[k+2]
		grad[k+2] = 2 * b[k] * bell * z * z / b[k+2]
		y += b[k] * bell
	}
	return y
}

func cubicRatio(grad, b, x []float64) float64 {
	x1, x2, x3 := x[0], x[0]*x[0], x[0]*x[0]*x[0]
	below := 1 + b[4]*x1 + b[5]*x2 + b[6]*x3
	y := (b[0] + b[1]*x1 + b[2]*x2 + b[3]*x3) / below
	for k, power := range []float64{1, x1, x2, x3} {
		grad[k] = power / below
	}
	for k, power := range []float64{x1, x2, x3} {
		grad[4+k] = -y * power / below
	}
	return y
}

func kirby2(grad, b, x []float64) float64 {
	x1, x2 := x[0], x[0]*x[0]
	below := 1 + b[3]*x1 + b[4]*x2
	y := (b[0] + b[1]*x1 + b[2]*x2) / below
	grad[0], grad[1], grad[2] = 1/below, x1/below, x2/below
	grad[3], grad[4] = -y*x1/below, -y*x2/below
	return y
}

func lanczos(grad, b, x []float64) (y float64) {
	for k := 0; k < 6; k += 2 {
		grad[k] = math.Exp(-b[k+1] * x[0])
		grad[k+1] = -b[k] * x[0] * grad[k]
		y += b[k] * grad[k]
	}
	return y
}

func mgh09(grad, b, x []float64) float64 {
	above, below := x[0]*(x[0]+b[1]), x[0]*x[0]+x[0]*b[2]+b[3]
	y := b[0] * above / below
	grad[0] = above / below
	grad[1] = b[0] * x[0] / below
	grad[2] = -y * x[0] / below
	grad[3] = -y / below
	return y
}

func mgh10(grad, b, x []float64) float64 {
	growth := math.Exp(b[1] / (x[0] + b[2]))
	grad[0] = growth
	grad[1] = b[0] * growth / (x[0] + b[2])
	grad[2] = -b[0] * growth * b[1] / ((x[0] + b[2]) * (x[0] + b[2]))
	return b[0] * growth
}

func mgh17(grad, b, x []float64) float64 {
	e4, e5 := math.Exp(-x[0]*b[3]), math.Exp(-x[0]*b[4])
	grad[0], grad[1], grad[2] = 1, e4, e5
	grad[3], grad[4] = -b[1]*x[0]*e4, -b[2]*x[0]*e5
	return b[0] + b[1]*e4 + b[2]*e5
}

func misra1a(grad, b, x []float64) float64 {
	decay := math.Exp(-b[1] * x[0])
	grad[0] = 1 - decay
	grad[1] = b[0] * x[0] * decay
	return b[0] * (1 - decay)
}

func misra1b(grad, b, x []float64) float64 {
	u := 1 + b[1]*x[0]/2
	grad[0] = 1 - 1/(u*u)
	grad[1] = b[0] * x[0] / (u * u * u)
	return b[0] * grad[0]
}

func misra1c(grad, b, x []float64) float64 {
	u := 1 + 2*b[1]*x[0]
	grad[0] = 1 - 1/math.Sqrt(u)
	grad[1] = b[0] * x[0] / (u * math.Sqrt(u))
	return b[0] * grad[0]
}

func misra1d(grad, b, x []float64) float64 {
	u := 1 + b[1]*x[0]
	grad[0] = b[1] * x[0] / u
	grad[1] = b[0] * x[0] / (u * u)
	return b[0] * grad[0]
}

func nelson(grad, b, x []float64) float64 {
	e := math.Exp(-b[2] * x[1])
	grad[0] = 1
	grad[1] = -x[0] * e
	grad[2] = b[1] * x[0] * x[1] * e
	return b[0] - b[1]*x[0]*e
}

func rat42(grad, b, x []float64) float64 {
	e := math.Exp(b[1] - b[2]*x[0])
	y := b[0] / (1 + e)
	grad[0] = 1 / (1 + e)
	grad[1] = -y * e / (1 + e)
	grad[2] = y * x[0] * e / (1 + e)
	return y
}

func rat43(grad, b, x []float64) float64 {
	e := math.Exp(b[1] - b[2]*x[0])
	grad[0] = math.Pow(1+e, -1/b[3])
	y := b[0] * grad[0]
	grad[1] = -y * e / (1 + e) / b[3]
	grad[2] = y * x[0] * e / (1 + e) / b[3]
	grad[3] = y * math.Log(1+e) / (b[3] * b[3])
	return y
}

func roszman1(grad, b, x []float64) float64 {
	z := b[2] / (x[0] - b[3])
	slope := 1 / (math.Pi * (1 + z*z) * (x[0] - b[3]))
	grad[0] = 1
	grad[1] = -x[0]
	grad[2] = -slope
	grad[3] = -z * slope
	return b[0] - b[1]*x[0] - math.Atan(z)/math.Pi
}
