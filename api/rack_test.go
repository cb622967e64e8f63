package api

import (
	"fmt"
	"math"
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

const pathRack = "/v1/dry-down/rack"

func TestExamplesOfRacks(t *testing.T) {
	t.Parallel()
	golden(t, "rack-four-pieces.answer", testClient(t).Post(t, pathRack, readExample(t, "rack-four-pieces.request").Value), nearFit)
}

// The example by hand: what each piece has lost and weighs at the target.
func TestPiecesOfARack(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.RackAnswer](t, testClient(t).Post(t, pathRack, readExample(t, "rack-four-pieces.request").Value))
	var got []string
	for _, p := range a.Pieces {
		last := p.WeighIns[len(p.WeighIns)-1]
		got = append(got, fmt.Sprintf("%s %s %.2f %% %.0f g %t", p.Name, last.Pointer, last.LossPercent, inGrams(p.Target.Weight), last.Counts))
	}
	want := []string{
		"left #/pieces/0/weigh_ins/2 21.50 % 650 g true", "right #/pieces/1/weigh_ins/2 19.00 % 780 g true",
		"middle #/pieces/2/weigh_ins/0 11.18 % 715 g true", "links #/pieces/3/weigh_ins/0 20.00 % 1950 g true",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("pieces (-want +got):\n%s", d)
	}
	if a.Count != 9 || a.Needed != 8 {
		t.Errorf("want eight of nine, got %d of %d", a.Needed, a.Count)
	}
	latest := 0.0
	for _, p := range a.Pieces {
		latest = math.Max(latest, *p.Target.Day.MedianDays)
	}
	if *a.Last.MedianDays < latest || *a.Enough.MedianDays >= *a.Last.MedianDays {
		t.Errorf("want the last after day %v and after so many, %v, got %v", latest, *a.Enough.MedianDays, *a.Last.MedianDays)
	}
}

func TestRackFaults(t *testing.T) {
	t.Parallel()
	const good = `{"stuffed_at":"2026-11-02T16:00:00Z","target_loss_percent":35,"pieces":[{"green_weight":{"value":1000,"unit":"g"},` +
		`"weigh_ins":[{"at":"2026-11-06T16:00:00Z","weight":{"value":940,"unit":"g"}}]}],"share_percent":50}`
	for _, tc := range []struct {
		name, old, with string
		want            refused
	}{
		{"no pieces", `"pieces":[{"green_weight":{"value":1000,"unit":"g"},"weigh_ins":[{"at":"2026-11-06T16:00:00Z","weight":{"value":940,"unit":"g"}}]}]`, `"pieces":[]`, invalid("#/pieces minItems")},
		{"a weigh-in before stuffing", `"at":"2026-11-06T16:00:00Z"`, `"at":"2026-11-01T16:00:00Z"`, invalid("#/pieces/0/weigh_ins/0/at before-stuffing")},
		{"a green weight of nothing", `"value":1000`, `"value":0`, invalid("#/pieces/0/green_weight/value minimum")},
		{"no goal", `"target_loss_percent":35,`, ``, invalid("#/target_loss_percent required")},
		{"a share of nothing", `"share_percent":50`, `"share_percent":0`, invalid("#/share_percent minimum")},
		{"a piece of no pieces", `"pieces":[{`, `"pieces":[{"count":0,`, invalid("#/pieces/0/count minimum")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathRack, Body: instead(t, good, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}
