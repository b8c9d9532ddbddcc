package web

import (
	"net/url"
	"strconv"
	"strings"
)

// The addresses of pages. They stay as they are: people keep them.
const (
	todayAt    = "/today"
	couponsAt  = "/coupons"
	coatingsAt = "/coatings"
	compareAt  = "/coatings/compare"
	rulesAt    = "/rules"
	sessionsAt = "/sessions"
	tintAt     = "/tint"
	lightAt    = "/light"
	logAt      = "/log"
	guideAt    = "/guide"
	enterAt    = "/enter"
	enrolAt    = "/enrol"
	measureAt  = "/measure"
	intakeAt   = "/intake"
	judgeAt    = "/judge"
	fitAt      = "/fit"
	moveAt     = "/move"
	amendAt    = "/amend"
	eventAt    = "/events"
	reportAt   = "/report"
	nameAt     = "/name"
	filesAt    = "/files/"
)

// segment writes a code as a part of a path. Its dots are escaped, so that none looks like that of a file.
func segment(code string) string { return strings.ReplaceAll(url.PathEscape(code), ".", "%2E") }

func couponAt(code string) string { return couponsAt + "/" + segment(code) }

func trayAt(id string) string { return intakeAt + "/" + id }

func judgingAt(number int64) string { return judgeAt + "/" + strconv.FormatInt(number, 10) }

func ruleAt(name string) string { return rulesAt + "/" + segment(name) }

func sessionAt(name string) string { return sessionsAt + "/" + segment(name) }

func topicAt(name string) string { return guideAt + "/" + segment(name) }

// fileAt is the address of a page as a file; query is what stands behind its question mark.
func fileAt(path, format, query string) string {
	at := path + "." + format
	if query != "" {
		at += "?" + query
	}
	return at
}

// withQuery returns an address with values; empty ones are left out.
func withQuery(path string, values ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(values); i += 2 {
		if values[i+1] != "" {
			q.Set(values[i], values[i+1])
		}
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// decimal writes a whole number.
func decimal(n int) string { return strconv.Itoa(n) }
