package lot_test

import (
	"testing"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/lot"
)

// What nobody read is not shown, and never a pass. Degrees above 60 °F at 24 °C
// (75.2 °F) are 15.2, so that 42 h are 638.4 of 1200 °F h, and 90 h are 1368.
func TestUnknownHoursAreNotShown(t *testing.T) {
	t.Parallel()
	acid := acidOf(5.2)
	strip := acid
	strip.Means.Method = lot.Strip
	for _, row := range []struct {
		name string
		told []lot.Told
		want finding.Status
	}{
		{"read from stuffing on", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(41, airAt(24)), told(47, airAt(24)), told(47, acid)}, finding.Met},
		{"from an hour after it on", []lot.Told{told(6, airAt(24)), told(18, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(48, airAt(24)), told(48, acid)}, finding.Met},
		{"from two hours after it on", []lot.Told{told(7, airAt(24)), told(18, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(48, airAt(24)), told(48, acid)}, finding.NotShown},
		{"15 hours between two", []lot.Told{told(5, airAt(24)), told(20, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(47, airAt(24)), told(47, acid)}, finding.NotShown},
		{"15 hours between two, after the acid", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acid), told(32, airAt(24))}, finding.Met},
		{"never above the base, as far as was read", []lot.Told{told(5, airAt(10)), told(29, airAt(10))}, finding.NotShown},
		{"too warm for too long, with a gap", []lot.Told{told(5, airAt(24)), told(95, airAt(24)), told(95, acid)}, finding.NotMet},
		{"a strip may be off by half", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(29, strip)}, finding.Near},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q, err := keep(t, append(begun(), row.told...)...).record.State().Fermentation()
			if err != nil {
				t.Fatal(err)
			}
			e, err := q.Judge()
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range e.Findings {
				if f.Code == fermentation.CodeDegreeHours && f.LimitID == e.Deciding && f.Status != row.want {
					t.Errorf("want %s, got %s: %s", row.want, f.Status, f.Reason)
				}
			}
		})
	}
}
