package api

import (
	"testing"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfAir(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"air-room-and-refrigerator", "air-wet-bulb", "air-one-room"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathAir, readExample(t, name+".request").Value), near)
		})
	}
}
