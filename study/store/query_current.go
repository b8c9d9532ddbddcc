package store

// Two kinds of rows have successors. A reading is current until another of the same column of the same export
// stands instead of it: see [Tx.Replace]. A fit is current until a newer one of its unit is put, and as long as the
// unit has a current reading. What is current is said here, and in the views v_standings and v_fits.

// currentFits are the current fits, as what a query calls fit.
const currentFits = "v_fits fit"

// ever selects the current readings and those before them by a condition, which each index holds apart.
func ever(condition string) string {
	return "WHERE id IN (SELECT id FROM reading WHERE superseded_by IS NULL AND " + condition +
		" UNION ALL SELECT id FROM reading WHERE superseded_by IS NOT NULL AND " + condition + ")"
}
