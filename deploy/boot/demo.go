package boot

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"greenweight/api"
	"greenweight/domain/lot"
	"greenweight/service/lots"
	"greenweight/service/request"
	"greenweight/service/store"
)

// demoRequest is the request id of all that a demonstration writes.
const demoRequest = "demonstration"

// recordedAfter is how long after it happened an invented fact is recorded, when
// the file does not say otherwise.
const recordedAfter = 90 * time.Second

// demoLots are the ledgers of the demonstration, in the order of recording. All
// of it is invented; the weights are written by hand, as those of sausages that
// dry at 12 to 13 °C and 78 % lose about a third in four weeks.
//
//go:embed demo.json
var demoLots []byte

// demoEntry is an entry of the demonstration. Its body is what would be posted,
// without happened_at.
type demoEntry struct {
	DaysAgo       int             `json:"days_ago"`
	At            string          `json:"at"`             // time of day
	RecordedAfter string          `json:"recorded_after"` // how long after it happened; see recordedAfter
	Body          json.RawMessage `json:"body"`
}

// demo is a demonstration that was filled in.
type demo struct {
	Lots []lot.ID // in the order of opening
	// Drying is the lot whose dry-down is worth looking at first: it dries, and one
	// of its weights is doubtful.
	Drying lot.ID
}

// errNotEmpty is why a store is not filled with invented lots.
var errNotEmpty = errors.New("there are lots in the store already, and invented ones should not get among them: leave --demo away to serve " +
	"those that are there, or name a store without lots")

// fillDemo fills a store without lots with invented ones, that happened in the
// weeks before now. Each entry is recorded by a clock that shows its time.
func fillDemo(ctx context.Context, st store.Store, now time.Time) (*demo, error) {
	var ledgers [][]demoEntry
	if err := json.Unmarshal(demoLots, &ledgers); err != nil {
		return nil, fmt.Errorf("read the demonstration: %w", err)
	}
	err := eachShop(ctx, st, func(shop store.Shop) error {
		return eachLot(ctx, st, shop.ID, func(store.Lot) error { return errNotEmpty })
	})
	if err != nil {
		return nil, err
	}
	clock := now
	keeper, err := keepLots(ctx, st, func() time.Time { return clock })
	if err != nil {
		return nil, err
	}
	d := &demo{}
	for _, ledger := range ledgers {
		var id lot.ID
		for i, e := range ledger {
			var posted demoPosted
			if posted, err = e.posted(now, i == 0); err != nil {
				return nil, fmt.Errorf("entry %d of the demonstration: %w", i+1, err)
			}
			clock = posted.recordedAt
			if id, err = posted.keep(ctx, keeper, id); err != nil {
				return nil, fmt.Errorf("keep entry %d of the demonstration: %w", i+1, err)
			}
		}
		d.Lots = append(d.Lots, id)
	}
	d.Drying = d.Lots[1]
	return d, nil
}

// demoPosted is an entry as it would have been posted.
type demoPosted struct {
	lots.Posted
	recordedAt time.Time
}

// posted puts an entry into the weeks before now.
func (e demoEntry) posted(now time.Time, opens bool) (demoPosted, error) {
	clock, err := time.Parse("15:04", e.At)
	if err != nil {
		return demoPosted{}, err
	}
	after := recordedAfter
	if e.RecordedAfter != "" {
		if after, err = time.ParseDuration(e.RecordedAfter); err != nil {
			return demoPosted{}, err
		}
	}
	year, month, day := now.Date()
	happened := time.Date(year, month, day-e.DaysAgo, clock.Hour(), clock.Minute(), 0, 0, now.Location())
	var what struct {
		Kind string `json:"kind"`
	}
	if err := json.Unmarshal(e.Body, &what); err != nil {
		return demoPosted{}, err
	}
	kind, known := lot.ParseKind(what.Kind)
	if opens {
		kind, known = lot.KindPlanned, true
	}
	if !known {
		return demoPosted{}, fmt.Errorf("there is no kind %q", what.Kind)
	}
	var body bytes.Buffer
	if err := json.Compact(&body, e.Body); err != nil {
		return demoPosted{}, err
	}
	text := `{"happened_at":"` + happened.Format(time.RFC3339) + `",` + body.String()[1:]
	told, err := api.ReadEntry(kind, text)
	if err != nil {
		return demoPosted{}, err
	}
	return demoPosted{Posted: lots.Posted{Body: text, Told: told}, recordedAt: happened.Add(after)}, nil
}

// keep opens a lot with the entry, or appends it to the lot of this id.
func (p demoPosted) keep(ctx context.Context, keeper *lots.Service, id lot.ID) (lot.ID, error) {
	by := request.By{Shop: store.FirstShop, RequestID: demoRequest}
	if id == "" {
		opened, err := keeper.Open(ctx, by, p.Body, p.Told, request.Once{})
		return opened.Lot.ID, err
	}
	_, err := keeper.Append(ctx, by, id, []lots.Posted{p.Posted}, request.Match{Any: true}, request.Once{})
	return id, err
}

// greeting tells people what to look at.
func (d *demo) greeting(url string) string {
	return fmt.Sprintf(`
Invented lots are in the store now. All of them, and when the pieces of one will have lost enough:
curl -s %[1]s/v1/lots
curl -s %[1]s/v1/lots/%[2]s/dry-down
`, url, d.Drying)
}
