package finding_test

import (
	"fmt"
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
)

// The words are those of FindingStatus, Stage and Authority in the contract.
func TestWords(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		of   fmt.Stringer
		want string
	}{
		{finding.Status(0), "unstated"},
		{finding.Met, "met"},
		{finding.Near, "near"},
		{finding.NotMet, "not-met"},
		{finding.NotShown, "not-shown"},
		{finding.NotApplicable, "not-applicable"},
		{finding.Hazard, "hazard"},
		{finding.Hazard + 1, "unstated"},
		{finding.Status(-1), "unstated"},
		{finding.Stage(0), "unstated"},
		{finding.Formula, "formula"},
		{finding.Process, "process"},
		{finding.Finish, "finish"},
		{finding.Finish + 1, "unstated"},
		{finding.Stage(-1), "unstated"},
		{finding.Authority(0), "unstated"},
		{finding.Law, "law"},
		{finding.Guidance, "guidance"},
		{finding.Practice, "practice"},
		{finding.Practice + 1, "unstated"},
		{finding.Authority(-1), "unstated"},
	} {
		if got := row.of.String(); got != row.want {
			t.Errorf("%T %d: want %q, got %q", row.of, row.of, row.want, got)
		}
	}
}

// Nothing measured is not the same as nothing found in what was measured.
func TestNoFigureIsNotAFigureOfNothing(t *testing.T) {
	t.Parallel()
	none := quantity.PPM{}.In(quantity.UnitMilligramsPerKilogram)
	basis := finding.Basis{Agent: "nitrite", Species: "NaNO2", Phase: "ingoing", Base: "meat"}
	for _, row := range []struct {
		name string
		zero bool
		want bool
	}{
		{"no figure", finding.Figure{}.IsZero(), true},
		{"no figure, on a basis", finding.Figure{Basis: basis}.IsZero(), true},
		{"a figure of nothing", finding.Figure{Value: none, Basis: basis}.IsZero(), false},
		{"no limit", finding.Limit{}.IsZero(), true},
		{"a limit that is only said to be", finding.Limit{Comparator: "<=", Printed: "none"}.IsZero(), true},
		{"a limit of nothing", finding.Limit{Comparator: "<=", Value: none, Printed: "0"}.IsZero(), false},
	} {
		if row.zero != row.want {
			t.Errorf("%s: want %v, got %v", row.name, row.want, row.zero)
		}
	}
}

func TestKeyIsTheRowElseTheCode(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		finding finding.Finding
		want    string
	}{
		{finding.Finding{Code: "nitrite-ingoing-ceiling", LimitID: "us-nitrite-comminuted"}, "us-nitrite-comminuted"},
		{finding.Finding{Code: "undiluted-nitrite"}, "undiluted-nitrite"},
	} {
		if got := row.finding.Key(); got != row.want {
			t.Errorf("want %q, got %q", row.want, got)
		}
	}
}
