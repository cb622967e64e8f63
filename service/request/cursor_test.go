package request

import (
	"strings"
	"testing"
)

func TestCursors(t *testing.T) {
	t.Parallel()
	type place struct {
		Us int64
		ID string
	}
	c := Cursors{secret: []byte("a secret of the test")}
	cursor, err := c.Write("list", place{7, "l1"})
	if err != nil {
		t.Fatal(err)
	}
	var got place
	if err := c.Read(cursor, "list", &got); err != nil || got != (place{7, "l1"}) {
		t.Errorf("got %+v, %v", got, err)
	}
	_, signature, _ := strings.Cut(cursor, ".")
	for _, bad := range []string{"x", ".", cursor + "x", "." + signature, strings.ToLower(cursor), "e30." + signature} {
		if err := c.Read(bad, "list", &got); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	if err := c.Read(cursor, "another list", &got); err == nil {
		t.Error("the cursor of another list was taken")
	}
	if err := (Cursors{secret: []byte("another secret")}).Read(cursor, "list", &got); err == nil {
		t.Error("the cursor of another service was taken")
	}
	got = place{}
	if err := c.Read("", "list", &got); err != nil || got != (place{}) {
		t.Errorf("the beginning: %+v, %v", got, err)
	}
}
