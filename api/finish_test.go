package api

import "testing"

// Each answer says in its description how it was checked by hand.
func TestExamplesOfFinish(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"finish-core-and-rim", "finish-at-home", "finish-dry-rim"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathFinish, readExample(t, name+".request").Value), near)
		})
	}
}
