package lot

// Clashes returns, for tests, what can't stand with the rest of a record.
func (r Record) Clashes() []string {
	var all []string
	for _, c := range r.clashes() {
		all = append(all, c.String())
	}
	return all
}
