package api

import (
	"testing"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfTargets(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"target-activity-and-ratio", "target-measured", "target-damp-room"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathTarget, readExample(t, name+".request").Value), near)
		})
	}
}
