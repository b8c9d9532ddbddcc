package study

// CleanCondition reports whether readings of a condition are of a clean surface; where
// nothing is said, they are taken to be.
func CleanCondition(condition string) bool { return condition == "" || condition == "cleaned" }

// ConditionDistance returns how near a condition is to the one wanted: 0 the same, 1 a clean
// one, 2 any other.
func ConditionDistance(wanted, condition string) int {
	switch {
	case condition == wanted:
		return 0
	case CleanCondition(condition):
		return 1
	}
	return 2
}

// Conditions returns the words for the condition that a coupon was measured in.
func Conditions() []string { return []string{"as_found", "rinsed", "cleaned"} }
