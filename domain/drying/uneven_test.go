package drying_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// hungPieces hang since the same time and were weighed on day 14.
func hungPieces(losses ...float64) []drying.Hung {
	pieces := make([]drying.Hung, 0, len(losses))
	for i, l := range losses {
		pieces = append(pieces, hungPiece(string(rune('A'+i)), l, 14))
	}
	return pieces
}

func hungPiece(name string, loss, day float64) drying.Hung {
	return drying.Hung{Name: name, Hung: stuffed, Diameter: material.Is(quantity.MustMillimetres(50)), Weighed: []drying.Weighed{{
		WeighIn: drying.WeighIn{At: on(day)}, Since: time.Duration(day * 24 * float64(time.Hour)), Loss: quantity.MustLossPercent(loss),
	}}}
}

// By hand, with the 0.9 quantiles of chi-squared 2.706, 4.605 and 6.251 at 1 to 3
// degrees of freedom: n pieces are uneven above 3 sqrt(q/(n-1)) points, that is 4.93,
// 4.55 and 4.33. Of two that are d apart the standard deviation is d/sqrt(2).
func TestCompare(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name       string
		losses     []float64
		want       drying.Evenness
		sd         float64
		lags, lead []string
	}{
		{"alike", []float64{20, 21, 22, 23}, drying.Even, 1.291, nil, nil},
		// Deviations of -3.25 -2.25 -1.25 6.75: 62.75/3 = 20.92.
		{"one ahead", []float64{20, 21, 22, 30}, drying.Uneven, 4.574, []string{"A"}, []string{"D"}},
		// Deviations of 2 2 2 -6: 48/3 = 16.
		{"one behind", []float64{24, 24, 24, 16}, drying.UnevenWatch, 4, []string{"D"}, nil},
		{"two, 7 apart", []float64{20, 27}, drying.Uneven, 4.950, []string{"A"}, []string{"B"}},
		{"two, 6 apart", []float64{20, 26}, drying.UnevenWatch, 4.243, []string{"A"}, []string{"B"}},
		{"two, 4 apart", []float64{20, 24}, drying.Even, 2.828, nil, nil},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			got := drying.Compare(hungPieces(row.losses...))
			sd, _ := got.SD.Get()
			quantitytest.Near(t, "standard deviation", row.sd, sd.Percent(), 1e-3)
			var lags, lead []string
			sum := 0.0
			for _, p := range got.Pieces {
				sum += p.Off.Percent()
				if p.Lags {
					lags = append(lags, p.Name)
				}
				if p.Leads {
					lead = append(lead, p.Name)
				}
			}
			quantitytest.Near(t, "sum of what they are off", 0, sum, 1e-9)
			if got.Verdict != row.want || !slices.Equal(lags, row.lags) || !slices.Equal(lead, row.lead) {
				t.Errorf("want %v %v %v, got %v %v %v: %s", row.want, row.lags, row.lead, got.Verdict, lags, lead, got.Why)
			}
			for _, name := range append(lags, lead...) {
				if !strings.Contains(got.Why, name) {
					t.Errorf("%s is not named in %q", name, got.Why)
				}
			}
		})
	}
}

// Only what can be compared is: weighed and hung about the same time, and as thick.
func TestCompareOnlyAlike(t *testing.T) {
	t.Parallel()
	thick := hungPiece("thick", 10, 14)
	thick.Diameter = material.Is(quantity.MustMillimetres(80))
	later := hungPiece("later", 5, 14)
	later.Hung = on(7)
	doubted := hungPiece("doubted", 40, 14)
	doubted.Weighed[0].Doubt = drying.DoubtTooFast
	down := hungPiece("not hung", 2, 14)
	down.Hung = time.Time{}
	got := drying.Compare(append(hungPieces(20, 21), hungPiece("old", 8, 10), thick, later, doubted, down))
	if len(got.Pieces) != 2 || got.Verdict != drying.Even {
		t.Errorf("got %+v", got)
	}
	if got := drying.Compare(append(hungPieces(20), doubted)); got.Verdict != drying.EvennessNotShown || len(got.Pieces) != 1 {
		t.Errorf("got %+v", got)
	}
	// Neither a piece that was taken down long ago nor a thick one named first keeps
	// the others from being compared.
	gone := hungPiece("gone", 30, 10)
	gone.Hung = on(-9)
	if got := drying.Compare(append([]drying.Hung{gone, thick}, hungPieces(20, 21, 22)...)); len(got.Pieces) != 3 || got.Verdict != drying.Even {
		t.Errorf("got %+v", got)
	}
	if got := drying.Compare(nil); got.Verdict != drying.EvennessNotShown {
		t.Errorf("got %+v", got)
	}
}
