package panel

import "testing"

// The first numbers for the seed 1234567, as they are published for the generator.
func TestSplitMix(t *testing.T) {
	t.Parallel()
	s := splitMix(1234567)
	for i, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423} {
		if got := s.next(); got != want {
			t.Errorf("number %d: want %d, got %d", i, want, got)
		}
	}
}
