package shown

import (
	"fmt"
	"strings"

	"wane/study/desk"
)

// Tasks is the columns of due. Outside programs rely on names and order.
func Tasks() List[*desk.Task] {
	return List[*desk.Task]{
		Value("task", func(t *desk.Task) any { return string(t.Task) }).Ranked(1, "", nil),
		Value("coupon", func(t *desk.Task) any { return OrEmpty(t.Coupon) }).Ranked(1, "", nil),
		Value("exposure", func(t *desk.Task) any { return OrEmpty(t.Exposure) }).Ranked(3, "", nil),
		Value("pull", func(t *desk.Task) any { return OrNil(t.Pull) }).Ranked(1, "", nil),
		Value("date", func(t *desk.Task) any { return OrEmpty(t.Date) }).Ranked(2, "", nil),
		Value("overdue_days", func(t *desk.Task) any { return t.OverdueDays }).Ranked(1, "days overdue", nil),
		Value("what", func(t *desk.Task) any { return t.What }).Ranked(1, "", nil).Folded(30),
	}
}

// TaskGroup is tasks that differ by their coupons alone.
type TaskGroup struct {
	desk.Task
	Coupons []string
}

// GroupTasks gathers tasks that are alike, in the order in which they come first.
func GroupTasks(tasks []desk.Task) (groups []TaskGroup) {
	known := map[desk.Task]int{}
	for _, t := range tasks {
		key, coupon := t, t.Coupon
		if key.Coupon = ""; !key.Pull.Valid() {
			key.Pull = -1 // null equals nothing
		}
		k, there := known[key]
		if !there {
			k = len(groups)
			known[key] = k
			groups = append(groups, TaskGroup{Task: t})
		}
		if coupon != "" {
			groups[k].Coupons = append(groups[k].Coupons, coupon)
		}
	}
	return groups
}

// Names names the coupons.
func (g *TaskGroup) Names() string {
	if len(g.Coupons) > mostNamed {
		return fmt.Sprintf("%d: %s", len(g.Coupons), FirstOf(g.Coupons, mostNamed))
	}
	return strings.Join(g.Coupons, ", ")
}

// Words say what is to be done, in one line.
func (g *TaskGroup) Words() string {
	words := string(g.Task.Task) + ": "
	if g.Pull.Valid() {
		words += fmt.Sprintf("pull %d", int(g.Pull))
		if g.Exposure != "" {
			words += " of " + g.Exposure
		}
		words += ", " + g.Names() + ": "
	}
	words += g.What
	switch {
	case g.OverdueDays > 0:
		words += fmt.Sprintf(" (%s overdue)", Count(g.OverdueDays, "day"))
	case g.Date != "" && !strings.Contains(g.What, g.Date):
		words += " (" + g.Date + ")"
	}
	return words
}

// NextVerb says what is to be done next, by a line that works as it stands, and why.
func NextVerb(s *desk.Status) (line, why string) {
	o := &s.Overview
	switch {
	case o.Coupons == 0:
		return "wane help rosters", "no coupon is enrolled: it says what wane enrol takes"
	case o.Spots == 0:
		return "wane help map", "nothing is read yet: it says how wane intake takes exports in"
	case o.Fits.Spots() > 0:
		return "wane fit", fmt.Sprintf("%s: new, or changed since the last fit", Count(o.Fits.Spots(), "spot"))
	case o.Held > 0:
		return "wane review", fmt.Sprintf("%s: held by guards until you judge them", Count(o.Held, "reading"))
	case len(s.Tasks) > 0:
		return "wane due", fmt.Sprintf("%s: to pull, measure, take in or renew", Count(len(s.Tasks), "task"))
	}
	return "wane results", "everything is evaluated"
}

// TaskGroups is the columns of a table of tasks that are alike.
func TaskGroups() List[*TaskGroup] {
	return List[*TaskGroup]{
		Cell("task", 1, "", func(g *TaskGroup) string { return string(g.Task.Task) }),
		Cell("overdue", 1, "", func(g *TaskGroup) string {
			if g.OverdueDays > 0 {
				return Count(g.OverdueDays, "day")
			}
			return "-"
		}),
		Cell("date", 3, "", func(g *TaskGroup) string { return Dash(g.Date) }),
		Cell("exposure", 2, "", func(g *TaskGroup) string { return Dash(g.Exposure) }),
		Cell("pull", 1, "", func(g *TaskGroup) string { return Decimal(g.Pull, 0) }),
		Cell("coupons", 1, "", func(g *TaskGroup) string { return Dash(g.Names()) }).Folded(24),
		Cell("what", 1, "", func(g *TaskGroup) string { return g.What }).Folded(24),
	}
}
