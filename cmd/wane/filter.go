package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// filterOptions are the flags that filter a listing.
type filterOptions struct {
	of      study.Filter
	pulls   string
	flagged string
	words   func() []string // that --flagged takes
}

// anyFlag is what --flagged without a word stands for.
const anyFlag = "any"

// bind binds the flags of these names; what is what the listing has rows of.
func (o *filterOptions) bind(cmd *cobra.Command, in *studyOptions, what string, names ...string) {
	f := cmd.Flags()
	for _, name := range names {
		switch name {
		case "coupon":
			f.StringArrayVar(&o.of.Coupons, name, nil, "only "+what+" of this coupon; repeatable")
			in.completeFlag(cmd, name, func(c *desk.Codes) []string { return c.Coupons })
		case "pull":
			f.StringVar(&o.pulls, name, "", "only "+what+" at these pulls: 2, 1-3 or 0,2-4")
		case "spot":
			f.StringArrayVar(&o.of.Spots, name, nil, "only "+what+" of this spot; repeatable")
		case "coating":
			f.StringArrayVar(&o.of.Coatings, name, nil, "only "+what+" of coupons with this coating; repeatable")
			in.completeFlag(cmd, name, func(c *desk.Codes) []string { return c.Coatings })
		case "session":
			f.StringArrayVar(&o.of.Sessions, name, nil, "only "+what+" of this session; repeatable")
			in.completeFlag(cmd, name, func(c *desk.Codes) []string { return c.Sessions })
		case "flagged":
			f.StringVar(&o.flagged, name, "", "only "+what+" that carry a flag; --flagged=WORD,... one of these")
			f.Lookup(name).NoOptDefVal = anyFlag
			if o.words == nil {
				o.words = flagWords
			}
			completeLists(cmd, name, o.words)
		default:
			panic("filterOptions: no filter " + name)
		}
	}
}

// flagWords are the flags that a result can carry, without the part after a colon.
func flagWords() (words []string) {
	for _, flag := range evaluate.Flags() {
		words = addOnce(words, strings.TrimSuffix(flag.Word, ":"))
	}
	return words
}

// check reads the flags.
func (o *filterOptions) check(cmd *cobra.Command) (err error) {
	flags := cmd.Flags()
	if o.of.Pulls = nil; flags.Changed("pull") {
		if o.of.Pulls, err = study.ParseSpans(o.pulls, 0); err != nil {
			return usagef("count pulls from 0: --pull 2, or a range: --pull 1-3", "--pull: %w", err)
		}
	}
	for name, codes := range map[string][]string{
		"coupon": o.of.Coupons, "spot": o.of.Spots, "coating": o.of.Coatings, "session": o.of.Sessions,
	} {
		if slices.Contains(codes, "") && flags.Lookup(name) != nil {
			return usagef("name it, or leave the flag out", "--%s is empty", name)
		}
	}
	if o.of.Flagged, o.of.Flags = flags.Changed("flagged"), nil; !o.of.Flagged || o.flagged == anyFlag {
		return nil
	}
	known := o.words()
	for word := range strings.SplitSeq(o.flagged, ",") {
		word = strings.TrimSpace(word)
		if before, _, _ := strings.Cut(word, ":"); !slices.Contains(known, before) {
			return usagef(study.DidYouMean(word, known, "use one of these: "+strings.Join(known, ", ")),
				"--flagged: there is no flag %q", word)
		}
		o.of.Flags = append(o.of.Flags, word)
	}
	return nil
}

// numberSpans reads arguments that are numbers from 1, or ranges of them.
func numberSpans(args []string, what, lists string) (all study.Spans, err error) {
	for _, a := range args {
		spans, err := study.ParseSpans(a, 1)
		if err != nil {
			return nil, usagef(fmt.Sprintf("use numbers that `%s` lists, or ranges: 17 196-199", lists),
				"the number of a %s: %v", what, err)
		}
		all = append(all, spans...)
	}
	return all, nil
}

// sayMissed says on stderr that a filter kept nothing, and what there is instead.
func sayMissed(w io.Writer, sieve *study.Sieve) error {
	fault, there := missedWords(sieve)
	if fault == "" {
		return nil
	}
	return printLine(w, "note %s: %s", fault, there)
}

// missedWords says that a filter kept nothing, and what there is instead; empty if it kept
// something.
func missedWords(sieve *study.Sieve) (fault, there string) {
	missed, together := sieve.Missed()
	if len(missed) == 0 {
		return "", ""
	}
	var filters, have []string
	for _, m := range missed {
		filters = append(filters, filterWords(m))
		if len(m.There) == 0 {
			have = append(have, "no row has a "+missedName(m.Field))
			continue
		}
		words := fmt.Sprintf("%ss are %s", missedName(m.Field), firstOf(m.There, 8))
		if near := study.Nearest(m.Wanted[0], m.There); near != "" && m.Field != "pull" {
			words = fmt.Sprintf("did you mean %s? %s", study.Shown(near), words)
		}
		have = append(have, words)
	}
	if together {
		return "no row matches all of these flags: " + strings.Join(filters, " "),
			"some rows match each of them alone; leave one out"
	}
	return "no row matches " + strings.Join(filters, " nor "), strings.Join(have, "; ")
}

func missedName(field string) string {
	if field == "flagged" {
		return "flag"
	}
	return field
}

// filterWords writes a filter as it was stated.
func filterWords(m study.Missed) string {
	if m.Field == "flagged" {
		if m.Wanted[0] == anyFlag {
			return "--flagged"
		}
		return "--flagged=" + strings.Join(m.Wanted, ",")
	}
	if m.Field == "pull" {
		return "--pull " + strings.Join(m.Wanted, ",")
	}
	words := make([]string, len(m.Wanted))
	for i, code := range m.Wanted {
		words[i] = "--" + m.Field + " " + quotedWord(code)
	}
	return strings.Join(words, " ")
}
