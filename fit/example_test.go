package fit_test

import (
	"context"
	"fmt"
	"math"

	"wane/fit"
)

// Biochemical oxygen demand, of G. Box, W. Hunter and J. Hunter, Statistics for
// Experimenters (1978), 483-487, with values certified by NIST (StRD, BoxBOD):
// 213.80940889 ± 12.354515176 and 0.54723748542 ± 0.10455993237, residual
// standard deviation 17.088072423.
func ExampleSolve() {
	days := []float64{1, 2, 3, 5, 7, 10}
	demand := []float64{109, 149, 149, 191, 213, 224} // mg/l

	r, err := fit.Solve(context.Background(), &fit.Problem{
		Params: []fit.Param{
			{Name: "final demand", Start: 100, Lower: 0, Upper: 1000},
			{Name: "rate", Start: 0.75, Lower: 0, Upper: math.Inf(1)},
		},
		Points: len(days),
		Residuals: func(dst, x []float64) {
			for i, t := range days {
				dst[i] = x[0]*(1-math.Exp(-x[1]*t)) - demand[i]
			}
		},
	}, nil)
	if err != nil || !r.Converged() {
		fmt.Println("not fitted:", r, err)
		return
	}
	cov, err := r.Covariance()
	if err != nil {
		fmt.Println(err)
		return
	}

	// The uncertainty of the data is not known: take it from the scatter.
	noise := math.Sqrt(r.Cost / float64(r.DegreesOfFreedom()))
	sd := fit.StandardErrors(nil, cov)
	fmt.Printf("final demand %.2f ± %.2f mg/l\n", r.X[0], sd[0]*noise)
	fmt.Printf("rate %.4f ± %.4f per day\n", r.X[1], sd[1]*noise)
	fmt.Printf("scatter %.2f mg/l\n", noise)
	// Output:
	// final demand 213.81 ± 12.35 mg/l
	// rate 0.5472 ± 0.1046 per day
	// scatter 17.09 mg/l
}

// The velocity of an enzymatic reaction by the model of Michaelis and Menten: D. M. Bates,
// D. G. Watts, Nonlinear Regression Analysis and Its Applications (1988), table A1.3. The ends that
// R 4.2.2 finds: 197.302 and 229.289, 0.046920 and 0.086157 (testdata/profile.R).
func ExampleProfile() {
	problem := puromycin()
	best, err := fit.Solve(context.Background(), problem, nil)
	if err != nil || !best.Converged() {
		fmt.Println("not fitted:", best, err)
		return
	}
	// An interval of 95 % for residuals of unknown scale ends where the cost has risen by so much:
	// t² times the estimated variance, t = 2.228 for 10 degrees of freedom.
	rise := 2.228 * 2.228 * best.Cost / float64(best.DegreesOfFreedom())
	for j, param := range problem.Params {
		ends, err := fit.Profile(context.Background(), problem, best, j, rise, nil)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%-2s %.4g, 95 %% interval %.4g to %.4g\n", param.Name, best.X[j], ends.Lower, ends.Upper)
	}
	// Output:
	// Vm 212.7, 95 % interval 197.3 to 229.3
	// K  0.06412, 95 % interval 0.04692 to 0.08616
}
