package shown

import (
	"fmt"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// Judged is the columns of readings that were held or judged.
func Judged() List[*desk.Judged] {
	return List[*desk.Judged]{
		Value("number", func(j *desk.Judged) any { return j.Number }).Ranked(1, "", nil),
		Value("standing", func(j *desk.Judged) any { return j.Standing.Words() }).Ranked(1, "", nil).OfStates(),
		Value("coupon", func(j *desk.Judged) any { return j.Coupon }).Ranked(1, "", nil),
		Value("pull", func(j *desk.Judged) any { return j.Pull }).Ranked(1, "", nil),
		Value("spot", func(j *desk.Judged) any { return j.Spot }).Ranked(1, "", nil),
		Value("condition", func(j *desk.Judged) any { return OrEmpty(j.Condition) }).Ranked(6, "", nil),
		Value("angle_deg", func(j *desk.Judged) any { return j.AngleDeg }),
		Value("polarisation", func(j *desk.Judged) any { return j.Polarisation }),
		Cell("setting", 1, "", func(j *desk.Judged) string { return fmt.Sprintf("%g° %s", j.AngleDeg, j.Polarisation) }),
		Value("replicate", func(j *desk.Judged) any { return j.Replicate }),
		Value("session", func(j *desk.Judged) any { return OrEmpty(j.Session) }),
		Value("export", func(j *desk.Judged) any { return j.Export }).
			Ranked(5, "", func(j *desk.Judged) string {
				return fmt.Sprintf("%s column %d", study.Shown(j.Export),
					j.Column)
			}).Folded(16),
		Value("column", func(j *desk.Judged) any { return j.Column }),
		Value("guards", func(j *desk.Judged) any { return OrEmpty(strings.Join(GuardsOf(j), " ")) }),
		Value("held_for", func(j *desk.Judged) any { return OrEmpty(study.HoldWords(j.Holds)) }).Ranked(1, "held for",
			nil).Folded(28),
		Value("reviewer", func(j *desk.Judged) any { return OrEmpty(LastReview(j).Line.Who) }).Ranked(3, "reviewed by",
			nil),
		Value("reviewed_at", func(j *desk.Judged) any { return OrEmpty(LastReview(j).Line.At) }),
		Value("why", func(j *desk.Judged) any { return OrEmpty(LastReview(j).Why) }).Ranked(2, "", nil).Folded(16),
	}
}

// GuardsOf names the guards that hold a reading.
func GuardsOf(j *desk.Judged) (guards []string) {
	for _, h := range j.Holds {
		guards = append(guards, h.Guard)
	}
	return guards
}

// LastReview returns the last judgement of a reading by a person, an empty one if there is none.
func LastReview(j *desk.Judged) *desk.JudgedBy {
	if len(j.Reviews) == 0 {
		return &desk.JudgedBy{}
	}
	return &j.Reviews[len(j.Reviews)-1]
}
