package entries_test

import (
	"testing"

	"greenweight/integration/backtest/entries"
)

func TestStudy(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, source, want string }{
		{"before the table", "Writer 2020, Paper, J. 9(12), 1813, table 1 (a.example/t1), means of 3", "Writer 2020, Paper, J. 9(12), 1813"},
		{"another table of it", "Writer 2020, Paper, J. 9(12), 1813, Table 4, row 'x'", "Writer 2020, Paper, J. 9(12), 1813"},
		{"a figure", "Writer 2020, Paper; Fig. 2", "Writer 2020, Paper"},
		{"a section without a comma", "Handbook F1 sec. 5.1 (dry sausage)", "Handbook F1"},
		{"spaces", "  Writer   2020,\n Paper, table 1", "Writer 2020, Paper"},
		{"not a table", "On stable drying tables, a review", "On stable drying tables, a review"},
		{"a DOI", "Weights read off, doi:10.1234/abc.56, by eye", "10.1234/abc.56"},
		{"the same DOI", "10.1234/ABC.56.", "10.1234/abc.56"},
		{"a PMC number", "Journal 2019 PMC123456 (x.example)", "pmc123456"},
		{"a remark in brackets", "Household log 2007 (a copy)", "Household log 2007"},
		{"computed", "SYNTHETIC: cylinder series, noise 0.2, table 1", "SYNTHETIC: cylinder series"},
		{"computed in the same way", "Synthetic: cylinder series", "Synthetic: cylinder series"},
		{"nothing", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if got := entries.Study(c.source); got != c.want {
				t.Errorf("want %q, got %q", c.want, got)
			}
		})
	}
}
