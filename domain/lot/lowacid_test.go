package lot_test

import (
	"slices"
	"strings"
	"testing"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
)

// Of a plan without acid the degree-hours are the same, and told for
// information; nobody is told to wait for a pH.
func TestFermentationOfADeclaredLowAcidPlan(t *testing.T) {
	t.Parallel()
	asked := func(lowAcid bool, more ...lot.Told) (lot.Fermentation, fermentation.Exposure) {
		entries := begun()
		entries[0] = changed(func(f *formula.Formula) { f.Plan.LowAcid = lowAcid })
		k := keep(t, entries...)
		for h := 5.0; h <= 29; h += 6 {
			k.post(told(h, airAt(14)))
		}
		k.post(more...)
		q, err := k.record.State().Fermentation()
		if err != nil {
			t.Fatal(err)
		}
		e, err := q.Judge()
		if err != nil {
			t.Fatal(err)
		}
		return q, e
	}
	acid := func(e fermentation.Exposure) finding.Finding {
		return e.Findings[slices.IndexFunc(e.Findings, func(f finding.Finding) bool { return f.Code == fermentation.CodeAcid })]
	}
	q, e := asked(true)
	_, sour := asked(false)
	if !slices.Contains(codesOf(q.Notes), "low-acid-declared") {
		t.Errorf("notes %v", codesOf(q.Notes))
	}
	got := acid(e)
	if got.Status != finding.NotShown || strings.Contains(got.Remedy, "Read the pH") || !strings.Contains(got.Reason, "declares") {
		t.Errorf("declared: %+v", got)
	}
	if was := acid(sour); !strings.Contains(was.Remedy, "Read the pH") || strings.Contains(was.Reason, "declares") {
		t.Errorf("not declared: %+v", was)
	}
	for i, f := range e.Findings {
		if f.Code == fermentation.CodeDegreeHours && f.Status != sour.Findings[i].Status {
			t.Errorf("%s: %s, and %s when it is not declared", f.LimitID, f.Status, sour.Findings[i].Status)
		}
	}
	// Acid that was read counts whatever was intended.
	if _, e := asked(true, told(30, acidWithin(0.05, 5.1))); acid(e).Status != finding.Met {
		t.Errorf("pH 5.1 was read: %+v", acid(e))
	}
}
