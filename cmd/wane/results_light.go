package main

import (
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/shown"
)

// lightOptions say in which other sunlight results are stated.
type lightOptions struct {
	at                  string
	diffuse             bool
	incidence, response string
	bandGap             string

	lights []evaluate.Light // as they were read
}

const lightLong = `
--at-incidence 30,60 adds what the surface lets in at these angles from the normal, --diffuse
in light from all sides, and --incidence FILE in the light of a year, or of any time: a table
incidence_deg,beam, or hourly datetime,incidence_deg,beam,diffuse, with amounts in the plane of
the glass. --response FILE (wavelength_nm,response) or --band-gap EV adds the change of the
short-circuit current of a device in percent. Changes are corrected as those of solar_T are, and
each uncertainty counts once what its readings share. The fits are made again for each light,
and nothing is stored; wane help oblique-sun says more.
`

func (o *lightOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.at, "at-incidence", "", "add the transmittance at these angles of incidence, degrees: 30,60")
	f.BoolVar(&o.diffuse, "diffuse", false, "add the transmittance in light that comes evenly from all sides")
	f.StringVar(&o.incidence, "incidence", "", "add the transmittance in the light of this table of angles or hours")
	f.StringVar(&o.response, "response", "", "add the change of the current of a device with the response of this table")
	f.StringVar(&o.bandGap, "band-gap", "", "add the change of the current of an ideal device with this band gap, eV")
}

// lightFlags are the flags by which a light is asked for.
var lightFlags = []string{"at-incidence", "diffuse", "incidence", "response", "band-gap"}

// asked returns the first of these flags that is given; empty: none.
func (o *lightOptions) asked(cmd *cobra.Command) string {
	i := slices.IndexFunc(lightFlags, cmd.Flags().Changed)
	if i < 0 {
		return ""
	}
	return lightFlags[i]
}

// mostLights is how many angles may be asked for at once: the study is fitted for each.
const mostLights = 20

// read fills the lights.
func (o *lightOptions) read() error {
	if o.at != "" {
		angles, err := degrees("at-incidence", o.at)
		if err != nil {
			return err
		}
		if len(angles) > mostLights {
			return usagef("ask for some of them now, and for the others in a second run",
				"--at-incidence has %d angles, and all spots are fitted for each: %d is the most", len(angles), mostLights)
		}
		for i, angle := range angles {
			if slices.Contains(angles[:i], angle) {
				return usagef("give each angle once", "--at-incidence has %g degrees twice", angle)
			}
			o.lights = append(o.lights, evaluate.LightAt(angle))
		}
	}
	if o.diffuse {
		o.lights = append(o.lights, evaluate.DiffuseLight())
	}
	add := func(light evaluate.Light, err error) error {
		o.lights = append(o.lights, light)
		return err
	}
	if o.incidence != "" {
		if err := add(desk.ReadLight(o.incidence)); err != nil {
			return err
		}
	}
	if o.response != "" {
		if err := add(desk.ReadResponse(o.response)); err != nil {
			return err
		}
	}
	if o.bandGap == "" {
		return nil
	}
	if o.response != "" {
		return usagef("leave one of them out",
			"--response and --band-gap cannot be used together: both say how a device answers to light")
	}
	gap, err := strconv.ParseFloat(o.bandGap, 64)
	if err != nil {
		return usagef("give it in eV: --band-gap 1.12", "--band-gap takes a number, not %q", o.bandGap)
	}
	return add(evaluate.IdealLight(o.bandGap, gap))
}

// listLit prints results in other lights, in any format.
func listLit(cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*desk.LitRow]) error {
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	rows, lossless := 0, 0
	bar := newProgress(cmd, "spots fitted")
	err := d.ResultsInLight(cmd.Context(), o.options(), o.light.lights, bar.to, func(r *desk.LitRow) error {
		if rows++; r.IsLossless() {
			lossless++
		}
		return out.write(r)
	})
	bar.end()
	if err != nil {
		return err
	}
	if err := out.end(); err != nil || o.list.format != "table" || rows == 0 {
		return err
	}
	lines := shown.LightLines(o.light.lights)
	if lossless > 0 {
		lines = append(lines, losslessWords)
	}
	for _, line := range lines {
		if err := writeLine(p, line); err != nil {
			return err
		}
	}
	return nil
}

// checkLight refuses flags that do not go with those of lights.
func (o *resultsOptions) checkLight(cmd *cobra.Command) error {
	asked := o.light.asked(cmd)
	if asked == "" {
		return nil
	}
	for _, other := range []string{"by", "joint", "independent", "routes", "soiling", "figure"} {
		if cmd.Flags().Changed(other) {
			return usagef("leave one of them out",
				"--%s and --%s cannot be used together: --%s lists spots, fitted again in other light", asked, other, asked)
		}
	}
	return o.light.read()
}

// litLister returns what prints results in other lights.
func (o *resultsOptions) litLister() (func(cmd *cobra.Command, d *desk.Desk) error, error) {
	columns, err := shown.InLight(o.light.lights).Choose(o.list.format, o.list.named)
	return func(cmd *cobra.Command, d *desk.Desk) error { return listLit(cmd, d, o, columns) }, err
}
