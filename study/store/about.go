package store

import (
	"strings"

	"wane/study"
)

// What the tables and columns of the study file mean, for those who read them elsewhere.

// tableNotes say what a row of a table is.
var tableNotes = map[string]string{
	"study":            "the study: what was chosen when it was made; one row",
	"exposure":         "an arm of the study: a protocol at a place",
	"pull":             "a planned moment at which coupons of an exposure are measured",
	"glass":            "a glass whose index the roster gave as a table",
	"coupon":           "a piece of coated or uncoated glass that is followed",
	"export":           "a file whose bytes the study keeps: an export, a table of measurements, a picture",
	"original":         "the bytes of the file with the same number, compressed (Zstandard)",
	"grid":             "the wavelengths of readings, once for all that share them",
	"reading":          "a spectrum: one curve from one column of an export",
	"fit":              "what was found from the readings of one spot at a pull, in one condition",
	"instrument":       "an instrument, and what the laboratory has measured of it",
	"event":            "what happened to an instrument",
	"reference":        "a certificate of a reference",
	"reference_curve":  "the values of a certificate at one angle and polarisation",
	"standard":         "a certified value of a check standard",
	"session":          "a sitting at an instrument",
	"standard_reading": "what a session read of a check standard",
	"measurement":      "a number that another instrument measured of a coupon",
	"profile":          "a version of an intake profile",
	"intake":           "how an export was taken in",
	"hold":             "a guard found a reading suspicious",
	"review":           "a person judged a reading",
	"guarding":         "how far the guards have looked",
	"hold_release":     "a hold that no longer stands",
	"glass_batch":      "what is known of a batch of glass",
	"return_spectrum":  "what comes back of the light that arrives at a laminated far face",
	"protocol":         "a version of a protocol",
	"sheet":            "a bench sheet: what is read in one sitting at a pull, and in which order",
	"sheet_line":       "a line of a bench sheet",
	"coupon_event":     "what happened to a coupon",
	"dose_reading":     "what an exposure gave its coupons since the row before, by the end of a day",
	"amendment":        "a cell of a row that was given another value; what came last counts",
	"withdrawal":       "a row that was taken out of the study",
	"given":            "one use of a file that a person gave to a command",
	"survey":           "what a large study had when all of it was evaluated; derived from the other tables",
	"merged":           "a study that was merged into this one",
	"merged_line":      "a line of the log of a merged study, under which something came",
	"merged_rows":      "rows of a table that came under a line of the log of a merged study",
	"rule":             "a rule of acceptance, as it was written",
	"verdict":          "what a rule said of a group of coupons when it was judged",
	"log":              "a line of the history: who did what, when and why",
}

// note says what a column means.
type note struct{ about, unit string }

// columnNotes are of columns by their names, or by TABLE.NAME where that has another meaning. Columns of fits that
// results have too are described there.
var columnNotes = map[string]note{
	"id":               {about: "number of the row in its table, from 1"},
	"log":              {about: "line of the log under which the row was added"},
	"exposure":         {about: "exposure; null of a coupon: none, or all of them"},
	"pull":             {about: "number of the pull; 0 is the baseline before exposure"},
	"coupon":           {about: "code of the coupon"},
	"spot":             {about: "marked place on the coupon; empty: the coupon as a whole"},
	"condition":        {about: "as_found, rinsed or cleaned; null or empty: not stated"},
	"session":          {about: "sitting at the instrument; null: none is named"},
	"angle_deg":        {about: "angle of incidence from the normal, in air", unit: "degrees"},
	"polarisation":     {about: "s, p, u (the mean of both) or n (the instrument's native beam)"},
	"replicate":        {about: "number of the repeated reading, from 1"},
	"operator":         {about: "who read it; null: not stated"},
	"note":             {about: "remark; null: none"},
	"date":             {about: "date; null: not stated", unit: "ISO 8601"},
	"points":           {about: "how many points the curve has"},
	"first_nm":         {about: "first wavelength", unit: "nm"},
	"last_nm":          {about: "last wavelength", unit: "nm"},
	"nm_packed":        {about: "wavelengths", unit: "nm"},
	"sha256":           {about: "SHA-256, in hexadecimal digits"},
	"serial":           {about: "serial number; null: not stated"},
	"instrument":       {about: "name of the instrument"},
	"certificate":      {about: "number of the certificate"},
	"issued":           {about: "date of the certificate", unit: "ISO 8601"},
	"expires":          {about: "last day of the certificate; null: it does not expire", unit: "ISO 8601"},
	"reference":        {about: "name of the reference; null: none"},
	"standard":         {about: "name of the check standard"},
	"export":           {about: "number of the file in the table export"},
	"version":          {about: "number of the version, from 1"},
	"text":             {about: "as it was written"},
	"glass":            {about: "name of the glass"},
	"glass_batch":      {about: "batch of the glass; null: glass and supplier stand for it"},
	"return_spectrum":  {about: "path of the table, as the roster wrote it; null: none"},
	"kept_protocol":    {about: "version of the protocol that the study kept, as NAME@VERSION; null: it is only a word"},
	"superseded_by":    {about: "number of the row that took the place of this one; null: this one is current"},
	"u":                {about: "standard uncertainty, in the unit of value; null: not stated", unit: "that of value"},
	"quantity":         {about: "what was measured"},
	"reading":          {about: "number of the reading, as in the table of spectra"},
	"guard":            {about: "name of the guard"},
	"reason":           {about: "why"},
	"profile":          {about: "name of the profile"},
	"protocol":         {about: "name of the protocol"},
	"study.correction": {about: "route of the correction: none, controls or session"},
	"study.mixing":     {about: "rule by which the index of film and voids is mixed"},
	"study.created":    {about: "when the study was made", unit: "RFC 3339, UTC"},
	"study.over_blank": {about: "1: readings are divided by those of the dark blanks of their session; null: not"},
	"study.two_people": {about: "1: nobody judges, amends or moves what they brought in themselves; null: they may"},

	"exposure.protocol":  {about: "protocol, as it was enrolled; null: not stated"},
	"exposure.site":      {about: "place; null: not stated"},
	"exposure.dose_unit": {about: "days, hours, cycles or kWh/m2"},
	"exposure.start":     {about: "first day; null: not stated", unit: "ISO 8601"},
	"pull.dose":          {about: "planned dose", unit: "the dose_unit of the exposure"},
	"pull.date":          {about: "planned date; null: not stated", unit: "ISO 8601"},

	"glass.n_packed": {about: "index n"},
	"glass.k_packed": {about: "imaginary part k of the index n + ik; k > 0 absorbs"},

	"coupon.role":            {about: "exposed, control, blank or blank-exposed"},
	"coupon.supplier":        {about: "who made the coating; null of blanks"},
	"coupon.coating":         {about: "what is on the glass; null of blanks"},
	"coupon.lot":             {about: "batch of the coating; null of blanks"},
	"coupon.glass_mm":        {about: "thickness of the glass; null: not stated", unit: "mm"},
	"coupon.back":            {about: "far face: matched, blackened, bare, coated or laminated"},
	"coupon.water_repellent": {about: "yes: the film keeps water out of its pores; null: not stated"},
	"coupon.leak": {about: "rms of the share of light that a matched far face returns; null: what is assumed by default",
		unit: "fraction"},

	"coupon.baseline_pull": {about: "pull that is the baseline of a coupon that joined late; null: 0"},
	"coupon.position":      {about: "where it hangs on the rack, in the words of the laboratory; null: not stated"},

	"coupon_event.event": {about: "start, stop, transfer, clean, rinse, damage, lost, broken or end"},
	"coupon_event.dose": {about: "dose that the coupon had received by then; of clean and rinse how often, null: once",
		unit: "the dose_unit of the exposure"},
	"coupon_event.done_by": {about: "who did it; null: not stated"},
	"coupon_event.picture": {about: "path or name of a picture; null: none"},
	"dose_reading.value":   {about: "dose since the row before", unit: "that of unit"},
	"dose_reading.unit":    {about: "days, hours, cycles or kWh/m2"},

	"export.name":       {about: "name of the file, as it was given"},
	"export.size_bytes": {about: "size", unit: "bytes"},

	"fit.digest":  {about: "SHA-256 of all that went into the fit, in hexadecimal digits"},
	"fit.session": {about: "session of its readings; null: none, or several"},
	"fit.state":   {about: "state by the fit alone; null: it takes pull 0 to say"},
	"fit.seen_T": {about: "part of solar_T from seen_lo_nm to seen_hi_nm, where there are readings",
		unit: "fraction"},
	"fit.seen_lo_nm": {about: "first wavelength of the readings", unit: "nm"},
	"fit.seen_hi_nm": {about: "last wavelength of the readings", unit: "nm"},
	"fit.angles_deg": {about: "angles of the readings, with spaces between; null: not kept, or nothing was fitted",
		unit: "degrees"},
	"fit.effects":   {about: "names of the errors of which the uncertainty is made, by owner; null: not kept"},
	"fit.joint_fit": {about: "name of the joint fit that owns errors of this one; null: none"},
	"solar_T_shared": {about: "part of u_solar_T that all pulls share, signed; only in fits before version 7",
		unit: "fraction"},
	"solar_T_shared_glass": {about: "part of u_solar_T of the glass, signed; only in fits before version 7",
		unit: "fraction"},
	"solar_T_shared_session": {about: "part of u_solar_T of the session, signed; only in fits before version 7",
		unit: "fraction"},
	"gain_shared_pp":            {about: "as solar_T_shared, of gain_pp", unit: "pp"},
	"gain_shared_glass_pp":      {about: "as solar_T_shared_glass, of gain_pp", unit: "pp"},
	"gain_shared_session_pp":    {about: "as solar_T_shared_session, of gain_pp", unit: "pp"},
	"gain_with_solar_T_pp":      {about: "covariance of gain_pp and solar_T; only in fits of version 6", unit: "pp"},
	"thickness_shared_nm":       {about: "as solar_T_shared, of thickness_nm", unit: "nm"},
	"thickness_shared_glass_nm": {about: "as solar_T_shared_glass, of thickness_nm", unit: "nm"},
	"solid_shared_nm":           {about: "as solar_T_shared, of solid_nm", unit: "nm"},
	"solid_shared_glass_nm":     {about: "as solar_T_shared_glass, of solid_nm", unit: "nm"},

	"instrument.kind":     {about: "kind of the instrument; null: not stated"},
	"instrument.cone_deg": {about: "half-angle of the beam; null: not stated", unit: "degrees"},
	"instrument.slit_nm":  {about: "spectral width at half maximum; null: not stated", unit: "nm"},
	"instrument.join_nm": {about: "wavelengths at which the next detector begins, with spaces between",
		unit: "nm"},
	"instrument.u_join": {about: "standard uncertainty of the step there", unit: "fraction"},
	"instrument.u_zero": {about: "standard uncertainty of what stray and dark light add in a session",
		unit: "fraction"},
	"instrument.u_place": {about: "standard uncertainty of the factor of a placement"},
	"instrument.u_tilt":  {about: "standard uncertainty of the tilt of a placement", unit: "degrees"},
	"instrument.u_place_zero": {about: "standard uncertainty of what light around the coupon adds",
		unit: "fraction"},
	"instrument.u_wavelength_nm": {about: "standard uncertainty of the wavelengths of a session", unit: "nm"},
	"instrument.geometry":        {about: "geometries that it can read, with spaces between; null: not stated"},
	"event.event":                {about: "lamp, detector or service"},

	"reference.u_scale": {about: "standard uncertainty of the scale of the certificate; null: not stated",
		unit: "fraction"},
	"reference.curves":              {about: "how many curves the certificate has"},
	"reference.sha256":              {about: "digest of its curves, in hexadecimal digits; null without curves"},
	"reference_curve.values_packed": {about: "certified values", unit: "fraction"},
	"reference_curve.u_packed":      {about: "their standard uncertainties", unit: "fraction"},

	"standard.quantity":      {about: "R, T, solar_R, solar_T, zero (a light trap) or line (a wavelength)"},
	"standard.wavelength_nm": {about: "wavelength of the value; null of solar values, zero and line", unit: "nm"},
	"standard.value":         {about: "certified value", unit: "fraction; of a line: nm"},
	"standard_reading.value": {about: "what was read", unit: "fraction; of a line: nm"},

	"session.humidity_percent": {about: "relative humidity; null: not stated", unit: "percent"},
	"session.temperature_c":    {about: "temperature; null: not stated", unit: "degrees Celsius"},
	"session.pore_water": {about: "share of the pores that water filled, as declared; null: not declared",
		unit: "fraction"},
	"session.u_pore_water": {about: "its standard uncertainty", unit: "fraction"},

	"measurement.value":   {about: "what was measured", unit: "that of unit"},
	"measurement.unit":    {about: "unit of value and u"},
	"measurement.method":  {about: "by which means"},
	"measurement.export":  {about: "number in the table export of the table that it stood in"},
	"measurement.line":    {about: "line of that table, from 1"},
	"measurement.picture": {about: "number in the table export of its picture; null: none"},

	"intake.digest":  {about: "SHA-256 of what decided how the export was read, in hexadecimal digits"},
	"intake.stated":  {about: "what a person stated; null: nothing"},
	"intake.profile": {about: "number in the table profile; null: none"},

	"review.standing":       {about: "counted or aside"},
	"review.why":            {about: "reason of the person"},
	"guarding.last_reading": {about: "guards that compare readings have seen those up to this number"},
	"guarding.last_line":    {about: "line of the log up to which they knew register and reviews; null before version 6"},
	"guarding.guards":       {about: "version of the guards; null before version 6"},
	"hold_release.hold":     {about: "number of the hold"},

	"glass_batch.batch":             {about: "name of the batch"},
	"glass_batch.u_index":           {about: "standard uncertainty of its index; null: what is assumed by default"},
	"glass_batch.model":             {about: "its dispersion, in words; null: not stated"},
	"return_spectrum.return_packed": {about: "share of the light that comes back", unit: "fraction"},

	"survey.last_reading": {about: "it covers the readings up to this number"},
	"survey.last_line":    {about: "line of the log up to which it covers what was entered"},
	"survey.model":        {about: "version of the model of the fits"},
	"survey.packed":       {about: "what was read of each coupon at each pull, and how many fits there were"},

	"amendment.of":    {about: "table of the row"},
	"amendment.row":   {about: "number of the row in its table"},
	"amendment.field": {about: "column"},
	"amendment.value": {about: "its value from then on, as a text; null: none", unit: "that of the column"},
	"withdrawal.of":   {about: "table of the row"},
	"withdrawal.row":  {about: "number of the row in its table"},

	"given.kind": {about: "what it was: map, roster, table (which a roster names) or measurements"},
	"given.name": {about: "its name when it was given"},

	"merged.name":           {about: "name of its file"},
	"merged.line":           {about: "number of the last line of its log"},
	"merged.hash":           {about: "hash of that line, in hexadecimal digits"},
	"merged_line.merged":    {about: "number in the table merged"},
	"merged_line.number":    {about: "number of the line in the log of the merged study"},
	"merged_line.at":        {about: "when it was written there", unit: "RFC 3339, UTC"},
	"merged_line.who":       {about: "who wrote it there; null: not known"},
	"merged_line.verb":      {about: "by which command it was written there"},
	"merged_line.why":       {about: "reason that the person gave there; null: none was asked for"},
	"merged_line.summary":   {about: "what was done there; null: nothing is said"},
	"merged_line.software":  {about: "program that wrote it there; null: it did not say"},
	"merged_line.hash":      {about: "hash of the line there, in hexadecimal digits"},
	"merged_rows.of":        {about: "table of the rows"},
	"merged_rows.first_row": {about: "number of the first of the rows in their table"},
	"merged_rows.last_row":  {about: "number of the last of the rows in their table"},
	"merged_rows.line":      {about: "number in the table merged_line"},

	"rule.rule":        {about: "name of the rule, used once"},
	"verdict.rule":     {about: "number in the table rule"},
	"verdict.of_group": {about: "the group: a coating, a lot, a supplier or an exposure, as the rule says"},
	"verdict.line":     {about: "last line of the log when it was judged"},
	"verdict.digest":   {about: "SHA-256 of what went in, in hexadecimal digits"},
	"verdict.verdict":  {about: "accept, reject or undecided"},
	"verdict.looked":   {about: "the readings that were looked at: a list in JSON of coupon, pull and session"},
	"verdict.row":      {about: "what was printed, in JSON: limit, worst, mean, lower and upper in the unit that it names"},

	"sheet.number":           {about: "number of the sheet among those of the pull, from 1"},
	"sheet.reading_protocol": {about: "protocol by which is read"},
	"sheet.angles_deg":       {about: "angles, with spaces between", unit: "degrees"},
	"sheet.replicates":       {about: "how many readings of each spot and angle"},
	"sheet.seed":             {about: "seed of the drawn order"},
	"sheet.blind":            {about: "yes: the sheet shows blind codes; null: it does not"},
	"sheet_line.sheet":       {about: "number in the table sheet"},
	"sheet_line.position":    {about: "place in the order, from 1"},
	"sheet_line.kind":        {about: "reference, check, trap or coupon"},
	"sheet_line.code":        {about: "what is read; null: it is not registered"},
	"sheet_line.blind_code":  {about: "code in its place on a blind sheet; null: the sheet is not blind"},
	"sheet_line.spots":       {about: "spots to read, as a list of texts in JSON"},

	"log.number":   {about: "number of the line, from 1"},
	"log.at":       {about: "when", unit: "RFC 3339, UTC"},
	"log.who":      {about: "who; null: not known"},
	"log.verb":     {about: "by which command"},
	"log.why":      {about: "reason of the person; null: none was asked for"},
	"log.summary":  {about: "what was done"},
	"log.rows":     {about: "how many rows were added, in all tables"},
	"log.content":  {about: "digest of these rows, in hexadecimal digits"},
	"log.hash":     {about: "SHA-256 of the hash of the line before and of this line, in hexadecimal digits"},
	"log.software": {about: "program that wrote the line; null: it did not say"},
	"log.totals":   {about: "how many rows each table has after the line; null before version 6"},
}

// noteOf returns what is known of a column.
func noteOf(t *table, column string) (note, bool) {
	if n, known := columnNotes[t.name+"."+column]; known {
		return n, true
	}
	if t == fitTable.table {
		for _, c := range study.Columns() {
			if c.Name == column {
				return note{strings.ReplaceAll(c.About, "`", ""), c.Unit}, true
			}
		}
	}
	n, known := columnNotes[column]
	return n, known
}

// fieldOf returns a column as a field of texts.
func fieldOf(t *table, column string) study.Field {
	n, _ := noteOf(t, column)
	return study.Field{Name: column, Unit: n.unit, About: n.about}
}
