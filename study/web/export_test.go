package web

// Patterns are the patterns of the addresses of pages and of changes, for tests that must forget none.
func Patterns() (pages, changes []string) {
	s := &Server{}
	for _, r := range s.pages() {
		pages = append(pages, r.pattern)
	}
	for _, r := range s.changes() {
		changes = append(changes, r.pattern)
	}
	return pages, changes
}
