package formula_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Regulation (EC) 853/2004, annex III: 7 °C for meat, 4 °C for poultry. 40 °F are
// 4.4 °C. Raw pH from 5.8 is watched, from 6.0 unfit (common practice).
func TestReceipt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, key string
		celsius   float64
		ph        float64 // 0: not measured
		want      []string
	}{
		{"cold pork", "pork-leg-lean-only", 3, 5.6, []string{"received-temperature met", "received-cold not-shown", "raw-ph not-shown"}},
		{"exactly 7 °C", "pork-leg-lean-only", 7, 0, []string{"received-temperature met", "received-cold not-met"}},
		{"a hair over 7 °C", "pork-leg-lean-only", 7.01, 0, []string{"received-temperature not-met", "received-cold not-met"}},
		{"poultry at 4 °C", "duck-meat-only", 4, 0, []string{"received-temperature not-shown", "received-cold not-shown"}},
		{"poultry at 5 °C", "duck-meat-only", 5, 0, []string{"received-temperature not-met", "received-cold not-met"}},
		{"pH 5.79", "pork-leg-lean-only", 3, 5.79, []string{"received-temperature met", "received-cold not-shown", "raw-ph not-shown"}},
		{"pH 5.8", "pork-leg-lean-only", 3, 5.8, []string{"received-temperature met", "received-cold not-shown", "raw-ph near"}},
		{"pH 6.0", "pork-leg-lean-only", 3, 6.0, []string{"received-temperature met", "received-cold not-shown", "raw-ph not-met"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := part("meat", c.key, 100)
			p.Received.Temperature = material.Is(quantity.MustCelsius(c.celsius))
			if c.ph > 0 {
				p.Received.PH = material.Is(quantity.MustPH(c.ph))
			}
			var got []string
			for _, f := range (formula.Formula{Parts: []formula.Part{p}}).JudgeReceipt() {
				got = append(got, f.Code+" "+f.Status.String())
				if f.Status == finding.Met && f.Source.Trust == source.Memory {
					t.Errorf("%s is met by a limit from memory", f.Code)
				}
				if f.NeedsAttention() && f.Remedy == "" {
					t.Errorf("%s has no remedy", f.Code)
				}
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
	if found := (formula.Formula{Parts: []formula.Part{part("meat", "pork-leg-lean-only", 100)}}).JudgeReceipt(); found != nil {
		t.Errorf("nothing was measured, and yet: %v", found)
	}
}

// The rules are those of the rulebooks asked for.
func TestReceiptByRulebook(t *testing.T) {
	t.Parallel()
	p := part("meat", "pork-leg-lean-only", 100)
	p.Received.Temperature = material.Is(quantity.MustCelsius(5))
	for _, c := range []struct {
		name  string
		asked []rulebook.Jurisdiction
		want  []string
	}{
		{"of the European Union", []rulebook.Jurisdiction{rulebook.EuropeanUnion}, []string{"eu received-temperature met"}},
		{"of the United States", []rulebook.Jurisdiction{rulebook.UnitedStates}, []string{"us received-cold not-met"}},
		{"of both", []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.GreatBritain}, []string{"us received-cold not-met", "gb received-temperature met"}},
		{"of neither", []rulebook.Jurisdiction{rulebook.Canada}, []string{" received-temperature met", " received-cold not-met"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var got []string
			for _, f := range (formula.Formula{Parts: []formula.Part{p}}).JudgeReceipt(c.asked...) {
				got = append(got, f.Rulebook+" "+f.Code+" "+f.Status.String())
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

// By hand: 90 mm flat are 2 x 90 / π = 57.30 mm across, and with a tenth for
// stretching 63.03 mm.
func TestDiameterOfACasing(t *testing.T) {
	t.Parallel()
	d, stated := formula.PlannedCasing{FlatWidth: quantity.MustMillimetres(90)}.Stuffed()
	quantitytest.Near(t, "diameter in mm", 63.03, d.Millimetres(), 0.005)
	if stated {
		t.Error("a diameter from a flat width is not stated")
	}
	d, stated = formula.PlannedCasing{FlatWidth: quantity.MustMillimetres(90), Diameter: quantity.MustMillimetres(60)}.Stuffed()
	quantitytest.Near(t, "stated diameter in mm", 60, d.Millimetres(), 1e-9)
	if !stated {
		t.Error("a diameter that is stated counts")
	}
	if d, _ := (formula.PlannedCasing{}).Stuffed(); !d.IsZero() {
		t.Errorf("nothing is stated, and yet %s", d)
	}
}

func TestLargestPiece(t *testing.T) {
	t.Parallel()
	six, ten := quantity.MustMillimetres(6), quantity.MustMillimetres(10)
	for _, c := range []struct {
		grind formula.Grind
		want  quantity.Length
	}{{formula.Grind{}, quantity.Length{}}, {formula.Grind{Plate: six}, six}, {formula.Grind{Plate: six, LargestPiece: ten}, ten}} {
		if got := c.grind.Largest(); got != c.want {
			t.Errorf("%v: want %s, got %s", c.grind, c.want, got)
		}
	}
}
