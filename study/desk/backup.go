package desk

import (
	"context"

	"wane/study/store"
)

// Backup writes a copy of the study, as it is at one moment even while others use
// it, into a file that must not exist, and verifies the copy.
func (d *Desk) Backup(ctx context.Context, path string) (*store.Report, error) {
	return d.store.Backup(ctx, path)
}
