package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study/desk"
	"wane/study/shown"
)

const enrolLong = `Enrol coupons, exposures and pulls, what happened to coupons and what exposures gave them,
and also instruments, references, check standards and sessions. They are CSV tables (rosters); the header says which table it is:

  coupons      coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure
               (and water_repellent, glass_batch, leak, return_spectrum, baseline_pull,
               position)
  exposures    exposure,protocol,site,dose_unit,start
  pulls        exposure,pull,dose,date
  what happened to coupons (wane help events)
               coupon,event,pull,exposure,dose,date,by,note,picture
  doses        exposure,date,value,unit
  batches of glass
               glass,batch,u_index,model
  instruments  instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join
               (and u_zero, u_place, u_tilt, u_place_zero, u_wavelength_nm, geometry)
  their events instrument,date,event
  references   reference,serial,certificate,issued,expires,u_scale,values
  standards    standard,serial,certificate,issued,expires,quantity,wavelength_nm,
               angle_deg,polarisation,value,u
  sessions     session,instrument,date,operator,reference,humidity_percent,
               temperature_c,condition
               (and pore_water, u_pore_water)
  readings of check standards
               session,standard,angle_deg,polarisation,value (and replicate)

From instruments on, a table may also have the column note. All files of one command are
enrolled together or not at all. An identical row adds nothing; a different row with the same
key is refused: wane amend corrects a row that was enrolled. A text has one line, without
control and format characters.
A leading ' before = + - @ # or another ' is removed (wane writes it for spreadsheets).
The study keeps the tables byte for byte: wane export --originals writes them out again.
A line that begins with # is a comment and is reported. Write a code that begins with # in
quotation marks: "#3". NAME.xlsx#Sheet is a sheet of a workbook (wane help rosters).

--from OTHER.wane merges the study of another laboratory into this one, all or nothing: what is
enrolled there, its current curves with their exports, its measurements, profiles, protocols and
the tables that it was given. The file is only read, and may lie on a disk that cannot be
written. What is equal adds nothing. What differs under the same code, or is read at the same
place, is a conflict: all conflicts are listed and nothing is merged. Guards look at what came
in, fits are made here, and curves that were set aside there are set aside here. The history
names the other study and the hash of its last line; wane trace shows who took a curve in there.
` + exitCodes

type enrolOptions struct {
	study studyOptions
	from  string
}

func newEnrolCommand() *cobra.Command {
	o := &enrolOptions{}
	cmd := &cobra.Command{
		Use: "enrol ROSTER.csv...", Short: "enrol coupons, exposures, pulls, instruments and sessions", Long: enrolLong,
		Example: "  wane enrol coupons.csv exposures.csv pulls.csv\n  wane enrol --from other-lab.wane",
		RunE:    func(cmd *cobra.Command, args []string) error { return runEnrol(cmd, o, args) },
	}
	o.study.bind(cmd)
	cmd.Flags().StringVar(&o.from, "from", "", "merge this study of another laboratory into the study")
	return cmd
}

func runEnrol(cmd *cobra.Command, o *enrolOptions, files []string) error {
	if cmd.Flags().Changed("from") {
		if len(files) > 0 {
			return usagef("run it twice: once with --from, once with the rosters", "--from takes no rosters beside it")
		}
		if o.from == "" {
			return usagef("name it: wane enrol --from other-lab.wane", "--from names no study")
		}
		return o.enrolFrom(cmd)
	}
	if err := atLeastOne("name the rosters: wane enrol coupons.csv exposures.csv pulls.csv")(cmd, files); err != nil {
		return err
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		n, err := d.Enrol(cmd.Context(), files)
		if err != nil {
			return err
		}
		if err := printNotes(cmd.ErrOrStderr(), n.Notes); err != nil {
			return err
		}
		reportGuards(cmd.ErrOrStderr(), &n.Guards)
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "enrolled: %s; identical rows add nothing\n", n)
		return err
	})
}

// enrolFrom merges another study.
func (o *enrolOptions) enrolFrom(cmd *cobra.Command) error {
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		m, err := d.EnrolFrom(cmd.Context(), o.from)
		if err != nil {
			return err
		}
		if err := printNotes(cmd.ErrOrStderr(), m.Notes); err != nil {
			return err
		}
		reportGuards(cmd.ErrOrStderr(), &m.Guards)
		return printLine(cmd.OutOrStdout(), "%s", shown.MergedWords(m))
	})
}
