package scenario

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// MapName is the name of the file that says where the curves of the exports belong.
const MapName = "map.csv"

const (
	exposure       = "roof"
	exposureRoster = "exposure,protocol,site,dose_unit,start\n" +
		exposure + ",field-rack,a roof that does not exist,days,2025-01-10\n"
	instrumentRoster = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,made up,two beams,,,,\n"
	standardRoster   = "standard,serial,certificate,issued,expires," +
		"quantity,wavelength_nm,angle_deg,polarisation,value,u\n" +
		"tile-1,made up,made up,2024-12-01,2026-12-01,R,550,8,u,0.0423,0.0004\n"
)

const (
	checksName   = "check-readings.csv" // the readings of the check standard
	checksHeader = "session,standard,angle_deg,polarisation,value\n"
	tile         = 0.0423 // what the check standard reflects
)

const mapHeader = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition\n"

// rosters returns the tables to enrol by their names, without the readings of the check standard.
func (s *Scenario) rosters() map[string]string {
	return map[string]string{
		"exposures.csv": exposureRoster, "pulls.csv": pullRoster(), "coupons.csv": s.couponRoster(),
		"events.csv": s.eventRoster(), "instruments.csv": instrumentRoster, "standards.csv": standardRoster,
		"sessions.csv": sessionRoster(),
	}
}

// Tables returns the names of the files to enrol.
func (s *Scenario) Tables() []string {
	return append(slices.Sorted(maps.Keys(s.rosters())), checksName)
}

// Files returns the names of all files that [Scenario.Write] makes, folders parted by slashes.
func (s *Scenario) Files() []string {
	names := append(s.Tables(), MapName)
	for pull := range doses {
		for i := range s.coupons {
			if c := &s.coupons[i]; c.isRead(pull) {
				names = append(names, exportName(c, pull))
			}
		}
	}
	return names
}

func sessionRoster() string {
	var b strings.Builder
	b.WriteString("session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n")
	for _, date := range dates {
		fmt.Fprintf(&b, "%s,bench-1,%s,,,,,%s\n", sessionOn(date), date, condition)
	}
	return b.String()
}

func sessionOn(date string) string { return "session-" + date }

func pullRoster() string {
	var b strings.Builder
	b.WriteString("exposure,pull,dose,date\n")
	for i, dose := range doses {
		fmt.Fprintf(&b, "%s,%d,%g,%s\n", exposure, i, dose, dates[i])
	}
	return b.String()
}

// eventRoster says when each coupon went out, and what happened to one.
func (s *Scenario) eventRoster() string {
	var b strings.Builder
	b.WriteString("coupon,event,pull,exposure,dose,date,by,note,picture\n")
	for i := range s.coupons {
		if c := &s.coupons[i]; c.Role == study.Exposed || c.Role == study.BlankExposed {
			fmt.Fprintf(&b, "%s,start,%d,,,%s,,,\n", c.Coupon.Coupon, c.BaselinePull, dates[c.BaselinePull])
		}
	}
	fmt.Fprintf(&b, "%s,broken,,,,%s,,a made-up storm,\n", broken, brokenOn)
	return b.String()
}

func (s *Scenario) couponRoster() string {
	var b strings.Builder
	b.WriteString("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,baseline_pull\n")
	for i := range s.coupons {
		c := &s.coupons[i].Coupon
		first := ""
		if c.BaselinePull > 0 {
			first = strconv.Itoa(c.BaselinePull)
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%g,%s,%s,%s\n",
			c.Coupon, c.Role, c.Supplier, c.Coating, c.Lot, c.Glass, float64(c.GlassMM), c.Back, c.Exposure, first)
	}
	return b.String()
}
