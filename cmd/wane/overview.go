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
		o, err := d.Overview(cmd.Context())
		if err != nil {
			return err
		}
		next, why := nextVerb(o)
		_, err = fmt.Fprintf(cmd.OutOrStdout(),
			"study %s: %s, %s read, %d to fit, %s held\nnext: %s (%s)\nall commands: wane --help\n",
			study.Shown(path), count(o.Coupons, "coupon"), count(o.Spots, "spot"), o.Fits.Spots(),
			count(o.Held, "reading"), next, why)
		return err
	})
}

// nextVerb says what is to be done next, and why.
func nextVerb(o *desk.Overview) (line, why string) {
	switch {
	case o.Coupons == 0:
		return "wane enrol coupons.csv exposures.csv pulls.csv", "no coupon is enrolled"
	case o.Spots == 0:
		return "wane intake --map map.csv", "nothing is read yet"
	case o.Fits.Spots() > 0:
		return "wane fit", fmt.Sprintf("%s: new, or changed since the last fit", count(o.Fits.Spots(), "spot"))
	case o.Held > 0:
		return "wane review", fmt.Sprintf("%s: held by guards until you judge them", count(o.Held, "reading"))
	}
	return "wane results", "everything is evaluated"
}
