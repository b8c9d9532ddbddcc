package guard_test

import (
	"fmt"

	"wane/study"
	"wane/study/guard"
)

// A check standard certified at 0.0412 ± 0.0003 (k = 1) reads well in two sessions, and 0.0009 too
// high in a third.
func ExampleJudgeChecks() {
	certified := study.Measure{Value: 0.0412, U: 0.0003}
	points := []guard.CheckPoint{
		{Value: 0.0413, Certified: certified},
		{Value: 0.0410, Certified: certified},
		{Value: 0.0421, Certified: certified},
	}
	for i, j := range guard.JudgeChecks(points) {
		fmt.Printf("session %d: %s by %s, limits %.4f to %.4f\n", i+1, j.Verdict, j.Rule, float64(j.Lower), float64(j.Upper))
	}
	// Output:
	// session 1: in control by certificate, limits 0.0406 to 0.0418
	// session 2: in control by certificate, limits 0.0406 to 0.0418
	// session 3: out of limits by certificate, limits 0.0406 to 0.0418
}
