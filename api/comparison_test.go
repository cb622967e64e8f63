package api

import (
	"testing"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfComparisons(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"comparison-bag-or-room", "comparison-three-casings"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathComparison, readExample(t, name+".request").Value), near)
		})
	}
}
