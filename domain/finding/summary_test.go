package finding_test

import (
	"testing"

	"greenweight/domain/finding"
)

func TestSummaryCountsByRulebookStageAndAuthority(t *testing.T) {
	t.Parallel()
	found := func(rulebook string, stage finding.Stage, status finding.Status) finding.Finding {
		return finding.Finding{Rulebook: rulebook, Stage: stage, Authority: finding.Law, Status: status}
	}
	s := finding.Summarise([]finding.Finding{
		found("us", finding.Formula, finding.Met), found("us", finding.Formula, finding.NotMet), found("eu", finding.Formula, finding.Met),
		found("us", finding.Formula, finding.Met), found("us", finding.Finish, finding.NotShown), found("us", finding.Finish, 0),
	})
	if len(s) != 3 {
		t.Fatalf("want three groups, got %+v", s)
	}
	for i, want := range []struct {
		rulebook           string
		stage              finding.Stage
		met, notMet, shown int
	}{{"us", finding.Formula, 2, 1, 0}, {"eu", finding.Formula, 1, 0, 0}, {"us", finding.Finish, 0, 0, 1}} {
		g := s[i]
		if g.Rulebook != want.rulebook || g.Stage != want.stage || g.Of(finding.Met) != want.met || g.Of(finding.NotMet) != want.notMet ||
			g.Of(finding.NotShown) != want.shown || g.Of(0) != 0 || g.Of(finding.Hazard+1) != 0 {
			t.Errorf("group %d: want %+v, got %+v", i, want, g)
		}
	}
}

func TestWorstOfAStage(t *testing.T) {
	t.Parallel()
	var s finding.Summary
	if got := s.Worst(finding.Formula); got != 0 {
		t.Errorf("want nothing of nothing, got %s", got)
	}
	s.Count("us", finding.Finish, finding.Law, finding.Hazard)
	for _, next := range []finding.Status{
		finding.NotApplicable, finding.Met, finding.NotShown, finding.Near, finding.NotMet, finding.Hazard,
	} {
		s.Count("us", finding.Formula, finding.Practice, next)
		if got := s.Worst(finding.Formula); got != next {
			t.Errorf("want %s, got %s", next, got)
		}
	}
}

func TestWhatNeedsAttention(t *testing.T) {
	t.Parallel()
	for status, want := range map[finding.Status]bool{
		finding.Met: false, finding.Near: true, finding.NotMet: true, finding.NotShown: false, finding.NotApplicable: false, finding.Hazard: true,
	} {
		if got := (finding.Finding{Status: status}).NeedsAttention(); got != want {
			t.Errorf("%s: want %v, got %v", status, want, got)
		}
	}
}
