package quantitytest

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// recorder is a test that notes what it is told and goes on.
type recorder struct {
	testing.TB
	said []string
}

func (*recorder) Helper() {}

func (r *recorder) Errorf(format string, args ...any) {
	r.said = append(r.said, fmt.Sprintf(format, args...))
}

func TestNear(t *testing.T) {
	t.Parallel()
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		name                 string
		want, got, tolerance float64
		near                 bool
	}{
		{"the same", 2.5, 2.5, 0, true},
		{"within", 2.5, 2.75, 0.5, true},
		{"at the edge, below", 2.5, 2.25, 0.25, true},
		{"outside", 2.5, 2.75, 0.125, false},
		{"outside, below", 2.5, 2.25, 0.125, false},
		{"a NaN got", 2.5, nan, inf, false},
		{"a NaN wanted", nan, nan, inf, false},
		{"a NaN of tolerance", 2.5, 2.5, nan, false},
		{"endless", inf, 2.5, 1e300, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			r := &recorder{TB: t}
			Near(r, "the salt", row.want, row.got, row.tolerance)
			if near := len(r.said) == 0; near != row.near {
				t.Fatalf("near: want %v, got %v", row.near, near)
			}
			if !row.near && !strings.Contains(r.said[0], "the salt") {
				t.Errorf("what was compared is not in %q", r.said[0])
			}
		})
	}
}
