package desk

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
)

// touched is a row that an act changes.
type touched struct {
	table  string // of the study file, such as pull or reading
	number int64  // of the row there
	words  string // what the row is to a person: "reading 12", "pull 1 of exposure field"
}

// secondPerson refuses an act that takes two people: in a study made with --two-people, nobody may release, set aside,
// amend, withdraw or move what they took in, enrolled or moved themselves. act is the verb for the refusal, as "amend".
// It returns who brought the rows in, for the end of the summary of the line of the log, which names who acts. In any
// other study it does nothing and returns nothing.
//
// Call it in the transaction of the act, before that adds anything, with each row that the act changes:
//
//	err := d.store.Write(ctx, entry, func(tx *store.Tx) error {
//		by, err := d.secondPerson(tx, "move", touched{"reading", 12, "reading 12"})
//		if err != nil {
//			return err
//		}
//		entry.Summary = "moved reading 12 to ..." + by
func (d *Desk) secondPerson(tx *store.Tx, act string, rows ...touched) (by string, err error) {
	if !d.Settings().TwoPeople {
		return "", nil
	}
	var own []string          // rows that this person brought in
	var first study.Entry     // under which the first of them came in
	var involved []string     // who brought rows in
	keys := map[string]bool{} // of involved
	for _, r := range rows {
		lines, err := tx.BroughtIn(r.table, r.number)
		if err != nil {
			return "", err
		}
		for _, l := range lines {
			if key := personKey(l.Who); !keys[key] {
				keys[key], involved = true, append(involved, l.Who)
			}
		}
		isOwn := func(l study.Entry) bool { return personKey(l.Who) == personKey(d.who) }
		if i := slices.IndexFunc(lines, isOwn); i >= 0 {
			if len(own) == 0 {
				first = lines[i]
			}
			own = append(own, r.words)
		}
	}
	if len(own) == 0 {
		slices.Sort(involved)
		return ", brought in by " + namesUpTo(involved, mostPeople), nil
	}
	people, err := tx.People()
	if err != nil {
		return "", err
	}
	people = slices.DeleteFunc(people, func(name string) bool { return keys[personKey(name)] })
	try := "let another person do it, with their own name in WANE_OPERATOR"
	if len(people) > 0 {
		try += "; of those who have worked on this study, these may: " + namesUpTo(people, mostPeople)
	}
	return "", &study.Refusal{
		Fault: fmt.Sprintf("%s: brought in by %s (line %d of the log, %s); in this study nobody may %s what they brought "+
			"in themselves", namesUpTo(own, mostOwn), study.Shown(first.Who), first.Number, first.Verb, act),
		Try: try,
	}
}

// tookIn returns what says whether this person took a reading in; nil where that does not count, in a study that is not of
// two people.
func (d *Desk) tookIn() func(v *store.View, number int64) (bool, error) {
	if !d.Settings().TwoPeople {
		return nil
	}
	return func(v *store.View, number int64) (bool, error) {
		lines, err := v.BroughtIn("reading", number)
		return slices.ContainsFunc(lines, func(l study.Entry) bool { return personKey(l.Who) == personKey(d.who) }), err
	}
}

// mostPeople and mostOwn are how many people and rows a refusal names.
const mostPeople, mostOwn = 8, 5

// namesUpTo joins the first n of names, and says how many more there are.
func namesUpTo(names []string, n int) string {
	if len(names) <= n {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:n], ", "), len(names)-n)
}

// personKey is the same for all ways of writing one name: capitals and spaces do not make another person.
func personKey(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }
