package curing_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Undiluted nitrite at the dose of a blend is a hazard: of the two batches one
// is left out, and neither its cure nor more meat is on the list.
func TestAHazardIsNotShoppedFor(t *testing.T) {
	t.Parallel()
	good := curing.Batch{Order: weighed(cured(generic("cure-1"), per(2.5, 1000)), 1000, rulebook.UnitedStates).Scaling}
	bad := curing.Batch{Order: weighed(cured(generic("sodium-nitrite"), per(2.5, 1000)), 1000, rulebook.UnitedStates).Scaling}
	alone, refused, err := curing.Shop([]curing.Batch{good}, nil)
	if err != nil || len(refused) != 0 {
		t.Fatalf("want a list and nothing refused, got %v, %v", refused, err)
	}
	both, refused, err := curing.Shop([]curing.Batch{bad, good}, []formula.Stocked{{Name: bad.Order.Formula.Additions[0].Name, OnHand: quantity.MustGrams(10)}})
	if err != nil {
		t.Fatal(err)
	}
	if len(refused) != 1 || refused[0].Batch != 0 || refused[0].Hazards[0].Status != finding.Hazard {
		t.Fatalf("want the first refused, got %+v", refused)
	}
	needs := func(s formula.Shopping) map[string]string {
		n := map[string]string{}
		for _, p := range s.Purchases {
			n[p.Name] = p.Needed.String()
		}
		return n
	}
	if d := cmp.Diff(needs(alone), needs(both)); d != "" {
		t.Errorf("list (-alone +with the hazard):\n%s", d)
	}
}

func TestFaultsOfShoppingNameTheBatch(t *testing.T) {
	t.Parallel()
	batch := curing.Batch{Order: weighed(cured(generic("cure-1"), per(2.5, 1000)), 1000, rulebook.UnitedStates).Scaling}
	lossless := batch
	lossless.Order.Amount = formula.Amount{Finished: quantity.MustGrams(1000)}
	lossless.Order.Formula.Plan.Loss = nil
	for _, c := range []struct {
		name    string
		batches []curing.Batch
		stocked []formula.Stocked
		want    string
	}{
		{"a batch", []curing.Batch{batch, lossless}, nil, "#/batches/1/formula/plan/loss_percent"},
		{"what is on hand", []curing.Batch{batch}, []formula.Stocked{{Name: "mace"}}, "#/stock/0/item"},
	} {
		_, _, err := curing.Shop(c.batches, c.stocked)
		var f *fault.Error
		if !errors.As(err, &f) || len(f.Violations) != 1 || f.Violations[0].Path.Pointer() != c.want {
			t.Errorf("%s: want a fault at %s, got %v", c.name, c.want, err)
		}
	}
}
