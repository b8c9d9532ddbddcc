package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

// overview prints, for wane without a verb, the study of this folder and what is to be done
// next; where there is no study it prints the help.
func overview(cmd *cobra.Command, in *studyOptions) error {
	path, err := in.path()
	if err != nil {
		if found, _ := filepath.Glob("*.wane"); len(found) > 1 { // the pattern is a good one
			return err
		}
		return cmd.Help()
	}
	return in.reading(cmd.Context(), func(d *desk.Desk) error {
		s, err := d.Status(cmd.Context(), desk.StatusOptions{})
		if err != nil {
			return err
		}
		next, why := nextVerb(s)
		o := &s.Overview
		_, err = fmt.Fprintf(cmd.OutOrStdout(),
			"study %s: %s, %s read, %d to fit, %s held\nnext: %s (%s)\nall commands: wane --help\n",
			study.Shown(path), count(o.Coupons, "coupon"), count(o.Spots, "spot"), o.Fits.Spots(),
			count(o.Held, "reading"), next, why)
		return err
	})
}

// nextVerb says what is to be done next, by a line that works as it stands, and why.
func nextVerb(s *desk.Status) (line, why string) {
	o := &s.Overview
	switch {
	case o.Coupons == 0:
		return "wane help rosters", "no coupon is enrolled: it says what wane enrol takes"
	case o.Spots == 0:
		return "wane help map", "nothing is read yet: it says how wane intake takes exports in"
	case o.Fits.Spots() > 0:
		return "wane fit", fmt.Sprintf("%s: new, or changed since the last fit", count(o.Fits.Spots(), "spot"))
	case o.Held > 0:
		return "wane review", fmt.Sprintf("%s: held by guards until you judge them", count(o.Held, "reading"))
	case len(s.Tasks) > 0:
		return "wane due", fmt.Sprintf("%s: to pull, measure, take in or renew", count(len(s.Tasks), "task"))
	}
	return "wane results", "everything is evaluated"
}
