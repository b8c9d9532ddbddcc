package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

const enrolLong = `Register coupons, exposures and pulls, and instruments, references, check
standards and sessions, from rosters: comma-separated tables whose headers tell them
apart.

  coupons      coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure
               (and water_repellent: yes, or empty)
  exposures    exposure,protocol,site,dose_unit,start
  pulls        exposure,pull,dose,date
  instruments  instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join
  events       instrument,date,event
  references   reference,serial,certificate,issued,expires,u_scale,values
  standards    standard,serial,certificate,issued,expires,quantity,wavelength_nm,
               angle_deg,polarisation,value,u
  sessions     session,instrument,date,operator,reference,humidity_percent,
               temperature_c,condition
  readings of check standards
               session,standard,angle_deg,polarisation,value (and replicate)

A column note may follow in the register's. All files of one call are registered
together or not at all. An identical row again adds nothing; a differing one is refused.
Texts are of one line, without control and format characters; an apostrophe before = + -
@ # or an apostrophe, as our CSV files have it, is taken off. A line that begins with #
is a comment, which is said; a code that does goes in quotation marks: "#3".
` + exitCodes

func newEnrolCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "enrol ROSTER.csv...", Short: "register coupons, exposures, pulls, instruments and sessions", Long: enrolLong,
		Example: "  wane enrol coupons.csv exposures.csv pulls.csv",
		Args:    atLeastOne("name the rosters: wane enrol coupons.csv exposures.csv pulls.csv"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runEnrol(cmd, o, args) },
	}
	o.bind(cmd)
	return cmd
}

func runEnrol(cmd *cobra.Command, o *studyOptions, files []string) error {
	return o.with(cmd.Context(), func(d *desk.Desk) error {
		n, err := d.Enrol(cmd.Context(), files)
		if err != nil {
			return err
		}
		if err := tell(cmd.ErrOrStderr(), n.Notes); err != nil {
			return err
		}
		reportGuards(cmd.ErrOrStderr(), &n.Guards)
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "enrolled %d exposures, %d pulls, %d coupons and %d glass tables; identical rows add nothing\n",
			n.Exposures, n.Pulls, n.Coupons, n.Glasses)
		if words := n.Registered.String(); words != "" && err == nil {
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "registered %s\n", words)
		}
		return err
	})
}
