package study

// CleanCondition reports whether a condition is that of a clean surface: cleaned, or not
// stated.
func CleanCondition(condition string) bool { return condition == "" || condition == "cleaned" }

// ConditionDistance returns the distance of a condition from the wanted one: 0 for the same,
// 1 for a clean one, 2 for any other.
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
