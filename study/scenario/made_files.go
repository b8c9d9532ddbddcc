package scenario

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"wane/study"
)

// File is a file of a made-up study; slashes part folders in its name.
type File struct{ Name, Text string }

// Tables returns the tables to enrol.
func (m *Made) Tables() []File {
	r := m.Roster
	files := []File{
		table("exposures.csv", "exposure,protocol,site,dose_unit,start", r.Exposures, func(e *study.Exposure) []string {
			return []string{e.Exposure, e.Protocol, e.Site, e.DoseUnit, e.Start}
		}),
		table("pulls.csv", "exposure,pull,dose,date", r.Pulls, func(p *study.Pull) []string {
			return []string{p.Exposure, strconv.Itoa(p.Pull), decimal(p.Dose), p.Date}
		}),
		table("coupons.csv", "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,glass_batch", r.Coupons,
			func(c *study.Coupon) []string {
				return []string{c.Coupon, string(c.Role), c.Supplier, c.Coating, c.Lot, c.Glass, decimal(float64(c.GlassMM)), c.Back,
					c.Exposure, c.Batch}
			}),
		table("events.csv", "coupon,event,pull,exposure,dose,date,by,note,picture", r.Lives, func(e *study.CouponEvent) []string {
			return []string{e.Coupon, string(e.Event), decimal(e.Pull.Value), "", "", e.Date, "", e.Note, ""}
		}),
		table("instruments.csv", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,u_zero,u_place,u_tilt,u_place_zero,"+
			"u_wavelength_nm", r.Instruments, func(i *study.Instrument) []string {
			return []string{i.Instrument, i.Serial, i.Kind, "", "", "", "", stated(i.UZero), stated(i.UPlace), stated(i.UTiltDeg),
				stated(i.UPlaceZero), stated(i.UWavelengthNM)}
		}),
		table("sessions.csv", "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition", r.Sessions,
			func(s *study.Session) []string {
				return []string{s.Session, s.Instrument, s.Date, "", "", "", "", s.Condition}
			}),
	}
	if len(r.Standards) > 0 {
		files = append(files, table("standards.csv",
			"standard,serial,certificate,issued,expires,quantity,wavelength_nm,angle_deg,polarisation,value,u", r.Standards,
			func(s *study.Standard) []string {
				return []string{s.Standard, s.Serial, s.Certificate, s.Issued, s.Expires, s.Quantity, "", decimal(s.AngleDeg),
					s.Polarisation, decimal(s.Value), decimal(s.U)}
			}),
			table("check-readings.csv", "session,standard,angle_deg,polarisation,value", r.Checks, func(c *study.StandardReading) []string {
				return []string{c.Session, c.Standard, decimal(c.AngleDeg), c.Polarisation, decimal(c.Value)}
			}))
	}
	return files
}

// table writes rows as CSV.
func table[Row any](name, header string, rows []Row, cells func(*Row) []string) File {
	var b strings.Builder
	w := csv.NewWriter(&b)
	all := [][]string{strings.Split(header, ",")}
	for i := range rows {
		all = append(all, cells(&rows[i]))
	}
	if err := w.WriteAll(all); err != nil {
		panic(err) // a Builder takes everything
	}
	return File{name, b.String()}
}

func stated(s study.Stated) string {
	if !s.Is {
		return ""
	}
	return decimal(s.Value)
}

// decimal writes a number so that it is read as the same one.
func decimal(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// Exports returns the exports, one for each coupon at each pull, and the map of their columns, which is the last file.
func (m *Made) Exports() []File {
	var files []File
	var placing strings.Builder
	placing.WriteString("file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition,replicate,mounting\n")
	for first := 0; first < len(m.Readings); {
		end := first
		for end < len(m.Readings) && ofOneExport(&m.Readings[end], &m.Readings[first]) {
			end++
		}
		files = append(files, export(m.Readings[first:end], &placing))
		first = end
	}
	return append(files, File{MapName, placing.String()})
}

func ofOneExport(a, b *study.Reading) bool {
	return a.Coupon == b.Coupon && a.Pull == b.Pull && a.Spot == b.Spot
}

// export writes the readings of a spot at a pull, a column each.
func export(readings []study.Reading, placing *strings.Builder) File {
	var b strings.Builder
	first := &readings[0]
	name := fmt.Sprintf("exports/%s-%s-pull%d.csv", first.Coupon, first.Spot, first.Pull)
	fmt.Fprintf(&b, "Made-up export of a rehearsal\nSession: %s\n\nWavelength (nm)", first.Session)
	for i := range readings {
		r := &readings[i]
		fmt.Fprintf(&b, ",%s deg R %d", decimal(r.AngleDeg), r.Replicate)
		fmt.Fprintf(placing, "%s,#%d,%s,%d,%s,%s,u,R,fraction,%s,%s,%d,%d\n", name, i+2, r.Coupon, r.Pull, r.Spot,
			decimal(r.AngleDeg), r.Session, r.Condition, r.Replicate, r.Mounting)
	}
	b.WriteString("\n")
	for k, nm := range first.NM {
		b.WriteString(decimal(nm))
		for i := range readings {
			b.WriteString("," + decimal(readings[i].Values[k]))
		}
		b.WriteString("\n")
	}
	return File{name, b.String()}
}
